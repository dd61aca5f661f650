"""Options that several commands share, each said once: those that state something of a rig are rows of the table of questions."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, Literal, Optional

import typer

from calib.words.language import choose, chosen
from calib.words.said import said
from photomeasure.asked.fields import BY_NAME, CAMERA, CASE, CENTRE, KIT, RIG, RULE, SINKS, TAPE
from photomeasure.asked.limits import Limit
from photomeasure.asked.question import Question
from photomeasure.asked.typed import number_typed

__all__ = [
    "CAMERA",
    "CASE",
    "CENTRE",
    "KIT",
    "OUTPUT",
    "RIG",
    "RULE",
    "SINKS",
    "TAPE",
]  # headings of one command's options

OUTPUT = said("Output")


def number(name: str, limit: Limit) -> Callable[[Any], float]:
    """A parser for an option's number: decimal comma, unit and inches will do; InputError outside the limit."""

    def parse(typed: Any) -> float:
        return number_typed(str(typed), name, limit)

    return parse


def option(name: str, *, called: str | None = None, asks: str | None = None) -> Any:
    """The option of a question. called, asks: its name and help, where a command has others. For `Annotated`."""
    question = BY_NAME[name]
    names = called or "/".join(filter(None, (question.option, question.opposite)))
    return typer.Option(
        names,
        parser=None if _by_typer(question) else _parser(question, called or question.option),
        metavar=question.metavar,
        help=asks or question.asks,
        rich_help_panel=question.panel,
    )


def annotation(question: Question) -> Any:
    """The annotation by which typer makes the option of a question: None where it is not said."""
    kinds: dict[str, Any] = {"number": float, "yes-no": bool, "file": Path}
    taken = kinds.get(question.kind, str)
    if question.kind == "choice" and _by_typer(question):
        taken = Literal.__getitem__(question.choices)
    return Annotated[Optional[taken], option(question.name)]


def _by_typer(question: Question) -> bool:
    """Whether typer itself reads it: switches, paths, and words that are shown as choices."""
    return question.kind in ("yes-no", "file") or (question.kind == "choice" and question.metavar is None)


def _parser(question: Question, called: str) -> Callable[[Any], Any]:
    def parse(typed: Any) -> Any:
        return question.parse(str(typed), called)

    return parse


LevelGround = Annotated[Optional[bool], option("level_ground")]
LevelWithin = Annotated[Optional[float], option("level_within_mm_per_m")]
BarX = Annotated[Optional[float], option("bar_x_mm")]
BarY = Annotated[Optional[float], option("bar_y_mm")]
TapeTo = Annotated[Optional[Literal["middle", "top", "tag"]], option("tape_to")]
TapeFlat = Annotated[Optional[float], option("tape_flat_mm")]
TapeClass = Annotated[Optional[str], option("tape_class")]
Camera = Annotated[Optional[Path], option("camera")]
CaseName = Annotated[Optional[str], option("case")]
By = Annotated[Optional[str], option("by")]
MonteCarlo = Annotated[
    bool, typer.Option("--monte-carlo", help="Check the interval by Monte Carlo (slower).", rich_help_panel=RULE)
]
PhotoFolders = Annotated[
    Optional[list[Path]],
    typer.Option(
        "--photos",
        metavar="DIR",
        help="Look here for the photographs first, by name and by digest; else beside the record and in this folder. "
        "May be given more than once.",
    ),
]
JsonFile = Annotated[
    Optional[Path],
    typer.Option(
        "--json",
        metavar="FILE",
        help="Write the result as JSON here; - is the standard output, and nothing else goes there.",
        rich_help_panel=OUTPUT,
    ),
]


def _speak(language: Optional[str]) -> str:
    """What is shown from here on is told in this language; files for programs (JSON, CSV) stay as they are."""
    if language is not None:
        choose(language)  # type: ignore[arg-type]
    return chosen()


Language = Annotated[
    Optional[Literal["en", "da", "de"]],
    typer.Option(
        "--language",
        case_sensitive=False,
        callback=_speak,
        is_eager=True,
        help="Of what is shown: answer, picture, report, this help; by default the terminal's. Records keep English, and what "
        "tells them in any language.",
        rich_help_panel=OUTPUT,
    ),
]
