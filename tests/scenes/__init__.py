"""Pictures of rigs with exact truth, for tests: own ray caster, own sensor, no path tracing."""

from .camera import Camera, pose_looking_at, project, undistort
from .ground import Backdrop, Ground
from .jpeg import encode_jpeg, save_jpeg
from .light import FINISHES, Light, ShadowEdge, ambient_only
from .scene import PlacedSheet, Scene, Truth, light_on_sensor, render
from .sensor import Look, delivered_px
from .surfaces import Ball, Box, Cylinder, Plane, frame

__all__ = [
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
    "Scene",
    "ShadowEdge",
    "Truth",
    "ambient_only",
    "delivered_px",
    "encode_jpeg",
    "frame",
    "light_on_sensor",
    "pose_looking_at",
    "project",
    "render",
    "save_jpeg",
    "undistort",
]
