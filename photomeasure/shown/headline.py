"""What stands over a result, everywhere: verdict or contradiction, and whether it holds as it is or only if something does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from calib.words.said import said
from photomeasure.record.schema import Record, VerdictWord
from photomeasure.shown.words import TITLES, WITHIN

Look = VerdictWord | Literal["disagree"]
DISAGREE = said("Photograph and tape disagree")
APART = said("Photograph and tape: two verdicts")
_CONDITIONAL = ("within", "above", "below")
_DISAGREE, _APART = said("photograph and tape disagree"), said("photograph and tape: two verdicts")
_INSIDE: dict[str, str] = {
    DISAGREE: _DISAGREE,
    APART: _APART,
    **{title: WITHIN[verdict] for verdict, title in TITLES.items()},
    **{
        said("{title}, if ...", title=title): said("{title}, if ...", title=WITHIN[verdict])
        for verdict, title in TITLES.items()
        if verdict in _CONDITIONAL
    },
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """title: the words of the badge; within: the same inside a sentence. look: its sign and colour.

    sure: drawn solid; else outlined and hatched, never solid."""

    title: str
    within: str
    look: Look
    sure: bool


def headline(record: Record) -> Headline:
    """A tape that contradicts comes before the verdict; a verdict that hangs on something has its "if" in it."""
    tape = record.tape
    if tape is not None and tape.agrees is False:
        return Headline(title=DISAGREE, within=_DISAGREE, look="disagree", sure=False)
    if tape is not None and tape.withdrawn is not None:
        return Headline(title=APART, within=_APART, look="disagree", sure=False)
    title, within = title_of(record.verdict, record.indicative), WITHIN[record.verdict]
    if record.indicative and record.verdict in _CONDITIONAL:
        within = said("{title}, if ...", title=within)
    return Headline(title=title, within=within, look=record.verdict, sure=not record.indicative)


def title_of(verdict: VerdictWord, indicative: bool) -> str:
    """The badge's words of a verdict."""
    title = TITLES[verdict]
    return said("{title}, if ...", title=title) if indicative and verdict in _CONDITIONAL else title


def inside_sentence(title: str) -> str:
    """A headline's title as it stands inside a sentence: "within the band, if ..."."""
    return _INSIDE.get(title, title)
