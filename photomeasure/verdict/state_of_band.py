"""The state in which a rig was photographed against the state that a band speaks of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from photomeasure.rules.model import Band, Rule, What
from photomeasure.asked.state import State


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One reason why a verdict is indicative, and what to do about it."""

    why: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    true: str
    false: str
    make_true: str
    make_false: str
    whether: str


_FIELDS = {
    "coupled": _Words(
        true="the trailer connected",
        false="the trailer not connected",
        make_true="connect the trailer",
        make_false="disconnect the trailer",
        whether="whether the trailer is connected",
    ),
    "laden": _Words(
        true="a laden rig",
        false="an unladen rig",
        make_true="load it as the rule says",
        make_false="unload it",
        whether="whether it is laden",
    ),
    "level_ground": _Words(
        true="level ground",
        false="ground not known to be level",
        make_true="move to level ground",
        make_false="move to such ground",
        whether="whether the ground is level",
    ),
    "level_control": _Words(
        true="a vehicle with level control",
        false="a vehicle without level control",
        make_true="use such a vehicle",
        make_false="use such a vehicle",
        whether="whether the vehicle has level control",
    ),
}


def choose_band(rule: Rule, state: State) -> Band | None:
    """The band whose state is contradicted least, then unknown least, then first; None: no bands."""

    def distance(band: Band) -> tuple[int, int]:
        asked = [(getattr(band.state, name), getattr(state, name)) for name in _FIELDS]
        contradicted = sum(want is not None and have is not None and want != have for want, have in asked)
        unknown = sum(want is not None and have is None for want, have in asked)
        return contradicted, unknown

    return min(rule.bands, key=distance, default=None)  # min keeps the first of equals


def differences(band: Band, state: State, what: What | None = None) -> tuple[Difference, ...]:
    """Where the photographed state is not, or not known to be, the one that the band speaks of.

    what: whose height was measured, where that is known; with the trailer connected, ball and head share it.
    """
    rows: list[Difference] = []
    if what is not None and what != band.state.what and state.coupled is not True:
        rows.append(
            Difference(
                why=f"The band speaks of the {band.state.what}; the {what} was measured.",
                remedy=f"Measure the {band.state.what}, or choose the rule for the {what}.",
            )
        )
    for name, words in _FIELDS.items():
        wanted, seen = getattr(band.state, name), getattr(state, name)
        if wanted is not None and seen is not wanted:
            rows.append(_difference(words, wanted, seen))
    return tuple(rows)


def _difference(words: _Words, wanted: bool, seen: bool | None) -> Difference:
    spoken_of, other = (words.true, words.false) if wanted else (words.false, words.true)
    if seen is None:
        return Difference(why=f"The band speaks of {spoken_of}; this was not stated.", remedy=f"State {words.whether}.")
    change = words.make_true if wanted else words.make_false
    return Difference(
        why=f"The band speaks of {spoken_of}; photographed was {other}.",
        remedy=f"To judge by this band, {change} and photograph again.",
    )
