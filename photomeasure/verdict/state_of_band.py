"""The state in which a rig was photographed against the state that a band speaks of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from calib.words.said import said
from photomeasure.asked.state import State

if TYPE_CHECKING:
    from photomeasure.rules.model import Band, Rule, What

Open = Literal["what", "coupled", "laden", "level_ground", "level_control", "measurement"]
MOVES: frozenset[Open] = frozenset({"what", "coupled", "laden", "level_control"})
"""What changes the height itself, or the band: until it is settled no drop or rise can be chosen. The ground does neither
(its part is in the interval), nor does a doubt about the measurement."""

_WHAT: dict[What, str] = {"vehicle ball": said("vehicle ball"), "coupling head": said("coupling head")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One reason why a verdict is indicative, and what to do about it.

    about: what is open. unsaid: nobody has said it yet; else it was said, and is not as the rule has it.
    """

    why: str
    remedy: str
    about: Open = "measurement"
    unsaid: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """for_true, for_false: what a rule is for; was_true, was_false: how the rig was photographed."""

    for_true: str
    for_false: str
    was_true: str
    was_false: str
    make_true: str
    make_false: str
    whether: str


_FIELDS: dict[Literal["coupled", "laden", "level_ground", "level_control"], _Words] = {
    "coupled": _Words(
        for_true=said("a connected trailer"),
        for_false=said("a trailer that is not connected"),
        was_true=said("this one was photographed with the trailer connected"),
        was_false=said("this one was photographed with the trailer not connected"),
        make_true=said("connect the trailer"),
        make_false=said("disconnect the trailer"),
        whether=said("whether the trailer is connected"),
    ),
    "laden": _Words(
        for_true=said("a laden rig"),
        for_false=said("an unladen rig"),
        was_true=said("this one was photographed laden"),
        was_false=said("this one was photographed unladen"),
        make_true=said("load it as the rule says"),
        make_false=said("unload it"),
        whether=said("whether it is laden"),
    ),
    "level_ground": _Words(
        for_true=said("level ground"),
        for_false=said("ground that is not level"),
        was_true=said("this rig stood on level ground"),
        was_false=said("this rig stood on ground not known to be level"),
        make_true=said("move to level ground"),
        make_false=said("move to such ground"),
        whether=said("whether the ground is level"),
    ),
    "level_control": _Words(
        for_true=said("a vehicle that levels itself"),
        for_false=said("a vehicle that does not level itself"),
        was_true=said("this one levels itself"),
        was_false=said("this one does not level itself"),
        make_true=said("choose the rule for such a vehicle"),
        make_false=said("choose the rule for such a vehicle"),
        whether=said("whether the vehicle levels itself (level control)"),
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

    what: whose height was measured, None where that is not known; with the trailer connected, ball and head share it.
    A height counts above level ground, also by a rule that says nothing of the ground.
    """
    rows = [row for row in (_of_what(band, state, what),) if row is not None]
    for name, words in _FIELDS.items():
        wanted, seen = getattr(band.state, name), getattr(state, name)
        if wanted is None and name == "level_ground":
            rows += _of_ground(seen)
        elif wanted is not None and seen is not wanted:
            rows.append(_difference(name, words, wanted, seen))
    return tuple(rows)


def _of_what(band: Band, state: State, what: What | None) -> Difference | None:
    """A vehicle's ball is not a trailer's head, unless the two are connected."""
    if state.coupled is True or what == band.state.what:
        return None
    spoken_of = _WHAT[band.state.what]
    if what is None:
        if spoken_of == "vehicle ball":
            return None  # what a person marks, and what the program looks for, is the ball
        return Difference(
            why=said(
                "The rule is for the {spoken_of}; what was marked here may be another thing.", spoken_of=spoken_of
            ),
            remedy=said(
                "Stick a centre tag on the {spoken_of}: it tells that this is what was measured.", spoken_of=spoken_of
            ),
            about="what",
            unsaid=True,
        )
    if state.coupled is None and what == "coupling head":
        return Difference(
            why=said(
                "The rule is for the {spoken_of}; the tag is on a {what}, and nobody said whether the two are "
                "connected.",
                spoken_of=spoken_of,
                what=_WHAT[what],
            ),
            remedy=said("State whether the trailer is connected."),
            about="what",
            unsaid=True,
        )
    return Difference(
        why=said("The rule is for the {spoken_of}; the {what} was measured.", spoken_of=spoken_of, what=_WHAT[what]),
        remedy=said(
            "Measure the {spoken_of}, or choose the rule for the {what}.", spoken_of=spoken_of, what=_WHAT[what]
        ),
        about="what",
    )


def _of_ground(level_ground: bool | None) -> list[Difference]:
    if level_ground is True:
        return []
    if level_ground is None:
        return [
            Difference(
                why=said("A height counts above level ground; nobody said whether this ground is level."),
                remedy=said("State whether the ground is level."),
                about="level_ground",
                unsaid=True,
            )
        ]
    return [
        Difference(
            why=said("A height counts above level ground; this rig stood on ground not known to be level."),
            remedy=said(
                "Move to level ground and photograph again, or read a level on the ground and state its reading."
            ),
            about="level_ground",
        )
    ]


def _difference(name: Open, words: _Words, wanted: bool, seen: bool | None) -> Difference:
    wants, was = (words.for_true, words.was_false) if wanted else (words.for_false, words.was_true)
    if seen is None:
        return Difference(
            why=said("The rule is for {wants}; nobody said {whether}.", wants=wants, whether=words.whether),
            remedy=said("State {whether}.", whether=words.whether),
            about=name,
            unsaid=True,
        )
    change = words.make_true if wanted else words.make_false
    return Difference(
        why=said("The rule is for {wants}; {was}.", wants=wants, was=was),
        remedy=said("To judge by this rule, {change}.", change=change)
        if name == "level_control"
        else said("To judge by this rule, {change} and photograph again.", change=change),
        about=name,
    )
