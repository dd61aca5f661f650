"""The drawn pictures that teach and judge the search of the ball, each by its seed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.experiments.ball_scenes import (
    BALL_FINISHES,
    DRAWN_X_MM,
    DRAWN_Z_MM,
    LIGHTS,
    BallPicture,
    draw_ball_picture,
    picture_of,
)
from tests.scenes import CONDITIONS, Camera, draw_rig_scene
from tests.scenes import project as project_scene


def draw_case(seed: int) -> BallPicture:
    """One misleading scene; finish, light, distance, state and size follow from the seed."""
    rng = np.random.default_rng(seed)
    return draw_ball_picture(
        rng,
        finish=BALL_FINISHES[seed % 5],
        light=LIGHTS[(seed // 5) % 4],
        distance_mm=float(rng.uniform(1400.0, 3200.0)),
        state=str(rng.choice(["bare", "bare", "bare", "coupled", "absent"])),
        chat=bool(rng.random() < 0.6),
        lens_mm=(-150.0, 150.0) if rng.random() < 0.7 else (300.0, 1000.0),
    )


def draw_yard(seed: int) -> BallPicture:
    """One rig of the yard without its sheet (the camera is solved in any case); the condition follows from the seed."""
    rng = np.random.default_rng(seed)
    condition = [name for name in CONDITIONS if name != "ground-set"][seed % (len(CONDITIONS) - 1)]
    coupled = rng.random() < 0.25
    scene = draw_rig_scene(rng, condition=condition, kit=None, coupled=coupled)
    whole = scene.cameras[0]
    corners = np.array([[x, y, z] for x in DRAWN_X_MM for y in (-60.0, 60.0) for z in DRAWN_Z_MM])
    px = project_scene(whole, corners)
    low = np.floor(np.clip(px.min(axis=0), 0, whole.size_px) / 20).astype(int) * 20
    high = np.ceil(np.clip(px.max(axis=0), 0, whole.size_px) / 20).astype(int) * 20
    intrinsics = whole.intrinsics.copy()
    intrinsics[2:4] -= low
    size = int(high[0] - low[0]), int(high[1] - low[1])
    camera = Camera(intrinsics=intrinsics, size_px=size, cam_from_world=whole.cam_from_world)
    shrunk = scene.look.long_side_px
    scale = 1.0 if shrunk is None else shrunk / max(whole.size_px)
    look = replace(scene.look, grey=True, long_side_px=None if shrunk is None else round(scale * max(size)))
    assert scene.truth is not None
    ball = next((s for s in scene.surfaces if type(s).__name__ == "Ball"), None)
    return picture_of(
        rng,
        replace(scene, cameras=(camera,), look=look),
        look,
        scale=scale,
        quality=scene.look.jpeg_quality,
        centre_mm=None if coupled else scene.truth.centre_mm,
        finish=getattr(ball, "finish", "none"),
        light=condition,
        state="coupled" if coupled else "bare",
    )
