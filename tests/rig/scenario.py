"""The invented Ferncombe hire yard's rigs as dictionaries, to be bent by a test."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path
from typing import Any

from photomeasure.rig.setup import Setup
from photomeasure.rig.setup_file import parse_setup
from photomeasure.rig.target import Target

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images" / "rigs"

PLAIN: dict[str, Any] = {
    "schema": "photomeasure/rig-setup/1",
    "title": "Ferncombe (invented): yard truck 1 with box trailer D",
    "vehicle": {
        "name": "Yard truck 1",
        "ball_height": {"mm": 470, "u_mm": 3},
        "coupled": False,
        "laden": True,
        "stand_test": {"drop": {"mm": 12, "u_mm": 1}, "mass": {"kg": 90, "u_kg": 1}},
    },
    "trailer": {
        "name": "Box trailer D",
        "level_coupling_height": {"mm": 420, "u_mm": 4},
        "drawbar": {"mm": 3500, "u_mm": 20},
        "axles": 1,
        "ball_load": {"kg": 120, "u_kg": 10},
    },
}


def plain() -> dict[str, Any]:
    """Return a setup with nothing optional in it."""
    return copy.deepcopy(PLAIN)


def sample(name: str) -> dict[str, Any]:
    """Return a worked setup as a dictionary."""
    return tomllib.loads((SAMPLES / name).read_text(encoding="utf-8"))


def checked(raw: dict[str, Any]) -> Setup:
    """Return the checked setup."""
    return parse_setup(raw, folder=SAMPLES, label="setup.toml")


def band(low_mm: float | None = 350.0, high_mm: float | None = 460.0, confidence: float = 0.95) -> Target:
    """Return a target, by default the band of the Australian ball rule (secondary)."""
    return Target(
        rule="test", title="Test rule", source="none", rule_confidence="memory",
        low_mm=low_mm, high_mm=high_mm, confidence=confidence, indicative="",
    )  # fmt: skip
