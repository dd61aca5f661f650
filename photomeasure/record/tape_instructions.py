"""How to confirm with a tape: where from, where to, and in which state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calib.words.said import joined, said
from photomeasure.asked.request import BALL_DIAMETER_MM

if TYPE_CHECKING:
    from photomeasure.asked.state import State


def tape_instructions(
    coupling: str, state: State, *, tagged: bool = False, ball_diameter_mm: float = BALL_DIAMETER_MM
) -> tuple[str, ...]:
    """Where from, where to and in which state to hold the tape, one step a line. tagged: a centre tag marks the centre."""
    return (
        _as_photographed(state),
        said("Start on hard ground straight below the coupling; if it is uneven, lay a straight bar across it."),
        _centre_words(coupling, state, tagged, ball_diameter_mm),
        said("Hold the tape upright against a square or a level, read to the millimetre, and read twice."),
        said("Reach in from the side; nobody between vehicle and trailer, no hand in the coupling."),
    )


def _as_photographed(state: State) -> str:
    stated = []
    if state.coupled is not None:
        stated.append(said("trailer connected") if state.coupled else said("trailer not connected"))
    if state.laden is not None:
        stated.append(said("laden") if state.laden else said("unladen"))
    if not stated:
        return said("Leave the rig exactly as it was photographed.")
    return said("Leave the rig exactly as it was photographed ({state}).", state=joined(stated))


def _centre_words(coupling: str, state: State, tagged: bool, ball_diameter_mm: float) -> str:
    if coupling == "pin":
        return said("Measure up to the middle of the pin's bush, half way between its upper and lower edge.")
    if tagged:
        return said("Measure up to the middle of the centre tag, and say that it was the tag.")
    if state.coupled:
        return said("Measure up to the centre mark on the coupling's side, or else to the level of the ball's middle.")
    return said(
        "Stand a square on the ground with its blade against the ball's side: where it touches is the "
        "ball's middle; measure up to there. Or measure to the top of the ball and say so: half the "
        "ball's {ball_diameter_mm:g} mm, and what a flat on top makes of it, is then taken off for you.",
        ball_diameter_mm=ball_diameter_mm,
    )
