"""A second upright sheet stood up in a rendered scene: another print, on the same ground."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.scenes import PrintedKit, Scene

DEG = np.pi / 180.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stood:
    """How the second sheet stands: the middle of its foot line, mm; its turn, lean and roll, degrees; gap and scale."""

    right_mm: float
    away_mm: float
    turn_deg: float = 0.0
    lean_deg: float = 0.0
    roll_deg: float = 0.0
    gap_mm: float = 0.2
    scale: tuple[float, float] = (1.0, 1.0)


def with_second(scene: Scene, kit: PrintedKit, stood: Stood) -> Scene:
    """The scene with that print in it."""
    assert scene.ground is not None
    turn, lean, roll = (DEG * value for value in (stood.turn_deg, stood.lean_deg, stood.roll_deg))
    about_z = np.array([[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]])
    right = about_z @ np.array([np.cos(roll), 0.0, -np.sin(roll)])
    up = about_z @ np.array([np.sin(roll) * np.cos(lean), np.sin(lean), np.cos(roll) * np.cos(lean)])
    ground_mm = float(scene.ground.z_mm(stood.right_mm, stood.away_mm))
    foot = np.array([stood.right_mm, stood.away_mm, ground_mm + stood.gap_mm])
    plane, placed = kit.upright.placed("upright", foot, right, up, print_scale=stood.scale)
    return replace(scene, surfaces=(plane, *scene.surfaces), sheets=(*scene.sheets, placed))
