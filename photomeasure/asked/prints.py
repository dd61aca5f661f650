"""Prints whose check bars were measured once and are remembered by the print's number."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from calib.kit.number import MAX_NUMBER
from calib.outcome.errors import InputError
from calib.outcome.files import write_atomic
from calib.words.said import said
from photomeasure.asked.bars import Bars

SCHEMA: Literal["photomeasure/print/1"] = "photomeasure/print/1"
PRINTS, PREFIX = "prints", "print-"  # a folder beside the remembered cameras


class PrintFile(BaseModel):
    """A remembered print as its file holds it."""

    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True)

    schema_: Literal["photomeasure/print/1"] = Field(default=SCHEMA, alias="schema")
    number: Annotated[int, Field(ge=1, le=MAX_NUMBER)]
    bar_x_mm: float | None = None
    bar_y_mm: float | None = None
    bar_x_u_mm: float | None = Field(default=None, gt=0.0)
    bar_y_u_mm: float | None = Field(default=None, gt=0.0)
    correlation: float | None = Field(default=None, ge=0.0, lt=1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RememberedPrint:
    """A print's number and what its check bars read."""

    number: int
    bars: Bars

    def as_file(self) -> dict[str, object]:
        bars = self.bars
        by_card = {"bar_x_u_mm": bars.x_u_mm, "bar_y_u_mm": bars.y_u_mm, "correlation": bars.correlation}
        kept = {name: value for name, value in by_card.items() if value is not None}
        return {"schema": SCHEMA, "number": self.number, "bar_x_mm": bars.x_mm, "bar_y_mm": bars.y_mm, **kept}


def print_path(folder: Path, number: int) -> Path:
    """Where a print of that number is remembered."""
    return folder / PRINTS / f"{PREFIX}{number:06d}.json"


def remember_print(folder: Path, kept: RememberedPrint) -> Path:
    """Keep a print's bars, in place of what was kept of it before; returns the file."""
    path = print_path(folder, kept.number)
    write_atomic(path, json.dumps(kept.as_file(), indent=1) + "\n")
    return path


def remember_bars(folder: Path, number: int, x_mm: float | None, y_mm: float | None) -> RememberedPrint:
    """Keep what a ruler reads on a print's bars; one that is None stays as it was remembered before."""
    before = remembered_print(folder, number)
    known = Bars() if before is None else before.bars
    bars = Bars(
        x_mm=known.x_mm if x_mm is None else x_mm,
        y_mm=known.y_mm if y_mm is None else y_mm,
        x_u_mm=known.x_u_mm if x_mm is None else None,
        y_u_mm=known.y_u_mm if y_mm is None else None,
    )
    kept = RememberedPrint(number=number, bars=bars)
    remember_print(folder, kept)
    return kept


def remembered_prints(folder: Path) -> tuple[RememberedPrint, ...]:
    """All of them, by their numbers; files that are none are passed over."""
    found = []
    for path in sorted((folder / PRINTS).glob(f"{PREFIX}*.json")):
        number = path.stem.removeprefix(PREFIX)
        with suppress(InputError):
            found.append(remembered_print(folder, int(number)) if number.isdecimal() else None)
    return tuple(kept for kept in found if kept is not None)


def forget_print(folder: Path, number: int) -> None:
    """Nothing is known of this print any more."""
    print_path(folder, number).unlink(missing_ok=True)


def remembered_print(folder: Path | None, number: int | None) -> RememberedPrint | None:
    """What is remembered of this print, or None. A file that is none raises InputError."""
    if folder is None or number is None:
        return None
    path = print_path(folder, number)
    try:
        kept = PrintFile.model_validate_json(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError, ValidationError) as error:
        raise InputError(
            said("What is remembered of print {number:06d} cannot be read: {path}.", number=number, path=path),
            expected=said("a file of schema {schema}, as photomeasure kit remember writes it", schema=SCHEMA),
            remedy=said("remember the print again, or remove that file"),
        ) from error
    return RememberedPrint(
        number=kept.number,
        bars=Bars(
            x_mm=kept.bar_x_mm,
            y_mm=kept.bar_y_mm,
            x_u_mm=kept.bar_x_u_mm,
            y_u_mm=kept.bar_y_u_mm,
            correlation=kept.correlation,
        ),
    )
