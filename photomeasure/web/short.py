"""A record in the few words that a list has room for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from calib.words.kept import packed, unpacked
from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.headline import headline


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """look: the verdict's sign and colour; sure: drawn solid; tape: the reading, or empty."""

    look: str
    title: str
    sure: bool
    height: str
    tape: str
    tape_agrees: bool | None


def said_short(record: Record) -> Short:
    """A record in the few words of a list."""
    head, tape = headline(record), record.tape
    found = words.figure(record)
    return Short(
        look=head.look,
        title=head.title,
        sure=head.sure,
        height="" if found is None else f"{found.height} {found.spread} mm",
        tape="" if tape is None else f"{tape.reading_mm:g} mm",
        tape_agrees=None if tape is None else tape.agrees,
    )


def kept_short(short: Short) -> dict[str, Any]:
    """As it is kept in JSON."""
    return {**asdict(short), "title": packed(short.title)}


def short_of(kept: Mapping[str, Any] | None) -> Short | None:
    """What `kept_short` made."""
    return None if kept is None else Short(**{**kept, "title": unpacked(kept["title"])})
