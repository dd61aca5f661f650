"""What is known of a rig beside its photographs, and where each fact comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# settings: from a person's file of defaults, which stands for no particular rig or print
KnownBy = Literal["typed", "ticked", "remembered", "settings", "assumed"]
Unsaid = Literal["coupling", "ball-diameter", "rule"]  # fields of a request that hold a default because nobody said

SAME_BAR_MM = 0.3  # a box stands for its half millimetre: calipers may say up to that beside it


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """question and value as on the sheet's boxes: yes or no, a bar's millimetres, a ball's millimetres or pin."""

    question: str
    value: str
    source: KnownBy


def bar_value(mm: float) -> str:
    """A bar's reading as its box has it, where it is on the grid of half millimetres."""
    return f"{mm:.1f}" if abs(2 * mm - round(2 * mm)) < 1e-6 else f"{mm:g}"


def unsaid(coupling: object, ball_diameter: object, rule: object) -> frozenset[Unsaid]:
    """Which of the three nobody named: those that are None."""
    said: tuple[tuple[Unsaid, object], ...] = (
        ("coupling", coupling),
        ("ball-diameter", ball_diameter),
        ("rule", rule),
    )
    return frozenset(name for name, value in said if value is None)
