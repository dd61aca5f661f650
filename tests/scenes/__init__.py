"""Pictures of rigs with exact truth, for tests: own ray caster, own sensor, no path tracing.

    kit = printed_kit(pdf, json)                                     # or chequer_kit()
    scene = draw_rig_scene(rng, condition="followed", kit=kit)       # conditions: CONDITIONS; coupled=True for a head
    image = render(scene, replace(scene.look, grey=True), rng)       # photo=1, 2 of a "ground-set"
    save_jpeg(image, path, scene.look.jpeg_quality, scene.exif)
    scene.truth.height_mm, scene.centre_px(photo=0), scene.sheet("upright").world_mm(page_mm)

World: x right, y away from the viewer, z up, mm; the upright sheet faces -y. Grey pictures take a third less time.
"""

from .camera import Camera, pose_looking_at, project, undistort
from .conditions import CONDITIONS
from .generate import draw_rig_scene
from .ground import Backdrop, Ground
from .jpeg import encode_jpeg, save_jpeg
from .light import FINISHES, Light, ShadowEdge, ambient_only
from .printed import PrintedKit, PrintedSheet, chequer_kit, cut_at_foot_line, printed_kit, sheet_texture
from .scene import PlacedSheet, Scene, Truth, light_on_sensor, render
from .sensor import Look, delivered_px
from .surfaces import Ball, Box, Cylinder, Plane, frame

__all__ = [
    "CONDITIONS",
    "FINISHES",
    "Backdrop",
    "Ball",
    "Box",
    "Camera",
    "Cylinder",
    "Ground",
    "Light",
    "Look",
    "PlacedSheet",
    "Plane",
    "PrintedKit",
    "PrintedSheet",
    "Scene",
    "ShadowEdge",
    "Truth",
    "ambient_only",
    "chequer_kit",
    "cut_at_foot_line",
    "delivered_px",
    "draw_rig_scene",
    "encode_jpeg",
    "frame",
    "light_on_sensor",
    "pose_looking_at",
    "printed_kit",
    "project",
    "render",
    "save_jpeg",
    "sheet_texture",
    "undistort",
]
