"""Why no drop or rise can be chosen from a photograph of another state, and what to do instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from calib.words.said import Said, joined, said, with_and
from photomeasure.verdict.adjustment import Adjustment
from photomeasure.verdict.conformity import MeasuredHeight
from photomeasure.verdict.state_of_band import MOVES, Difference, Open

_THEN: dict[Open, str] = {"coupled": said("with the trailer connected"), "laden": said("laden as the rule says")}
_ASK: dict[Open, str] = {
    "coupled": said("whether the trailer is connected"),
    "laden": said("whether the rig is laden"),
    "level_control": said("whether the vehicle levels itself"),
    "what": said("whether this is the ball or the coupling head"),
}


def moving(rows: Sequence[Difference]) -> tuple[Difference, ...]:
    """The differences that change the height itself, or the band."""
    return tuple(row for row in rows if row.about in MOVES)


def no_drop(rows: Sequence[Difference], confidence: float) -> Adjustment:
    """No range at all, and the sentence that says so. rows: the differences that move the height, at least one."""
    return Adjustment(
        possible=False,
        least_down_mm=None,
        most_down_mm=None,
        best_down_mm=None,
        room_down_mm=None,
        room_up_mm=None,
        confidence=confidence,
        sentence=_sentence(rows),
    )


def when_settled(change: Adjustment, there: MeasuredHeight, rows: Sequence[Difference]) -> Adjustment:
    """The range for the height worked out for the state that counts, and a sentence that says that it was worked out."""
    low, high = there.height_mm - there.less_mm, there.height_mm + there.more_mm
    about = {row.about for row in rows}
    if {"coupled", "laden"} <= about:
        opening = said(
            "With the trailer connected and laden as the rule says it would stand at {low:.0f} to {high:.0f} mm, by what was "
            "stated of its sinking",
            low=low,
            high=high,
        )
    elif "coupled" in about:
        opening = said(
            "With the trailer connected it would stand at {low:.0f} to {high:.0f} mm, by what was stated of its sinking",
            low=low,
            high=high,
        )
    else:
        opening = said(
            "Laden as the rule says it would stand at {low:.0f} to {high:.0f} mm, by what was stated of its sinking",
            low=low,
            high=high,
        )
    sentence = change.sentence
    if isinstance(sentence, Said) and "open" in sentence.values:
        sentence = sentence.with_values(open=opening)
    return replace(change, sentence=sentence)


def _sentence(rows: Sequence[Difference]) -> str:
    unsaid = [_ASK[row.about] for row in rows if row.unsaid]
    if unsaid:
        return said("No drop or rise can be chosen from this photograph before it is known {what}.", what=_and(unsaid))
    then = [_THEN[row.about] for row in rows if row.about in _THEN]
    if not then:
        return said("No drop or rise can be chosen from this photograph: it does not show what the rule is for.")
    return said(
        "No drop or rise can be chosen from this photograph: it does not show the height {state}.", state=_and(then)
    )


def what_would_tell(rows: Sequence[Difference]) -> tuple[str, ...]:
    """What to state in place of another photograph; nothing where it is not known yet what the photograph shows."""
    if any(row.unsaid for row in rows) or not any(row.about in _THEN for row in rows):
        return ()
    return (
        said(
            "Or state the ball load and how far the ball goes down under a known mass: then the range can be worked out."
        ),
    )


def _and(parts: Sequence[str]) -> str:
    return parts[0] if len(parts) == 1 else with_and([joined(parts[:-1]), parts[-1]])
