"""Options that several commands share, each said once: name, what it takes, help, heading."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, Literal, Optional

import typer

from photomeasure.asked import limits
from photomeasure.asked.case import case_text
from photomeasure.asked.limits import Limit
from photomeasure.asked.typed import number_typed

# headings of the options of one command
RIG, SINKS, KIT, CENTRE, RULE, TAPE, CAMERA, CASE, OUTPUT = (
    "The rig as photographed",
    "How far the ball sinks, for advice on drops",
    "The printed sheet",
    "The coupling's centre",
    "Rule and decision",
    "Tape",
    "Camera and bay",
    "The case",
    "Output",
)


def number(name: str, limit: Limit) -> Callable[[Any], float]:
    """A parser for an option's number: decimal comma, unit and inches will do; InputError outside the limit."""

    def parse(typed: Any) -> float:
        return number_typed(str(typed), name, limit)

    return parse


def _number(name: str, limit: Limit, *, help: str, panel: str, metavar: str = "MM") -> Any:
    return typer.Option(name, parser=number(name, limit), metavar=metavar, help=help, rich_help_panel=panel)


Coupling = Literal["ball-50", "pin"]
CouplingOption = Annotated[Coupling, typer.Option(help="Kind of coupling.", rich_help_panel=RIG)]
CouplingOrNone = Annotated[
    Optional[Coupling], typer.Option(help="Kind of coupling; ball-50 where it is not said.", rich_help_panel=RIG)
]
Coupled = Annotated[
    Optional[bool], typer.Option("--coupled/--uncoupled", help="Is the trailer connected?", rich_help_panel=RIG)
]
Laden = Annotated[Optional[bool], typer.Option("--laden/--unladen", help="Is the rig loaded?", rich_help_panel=RIG)]
LevelGround = Annotated[
    Optional[bool],
    typer.Option("--level-ground/--unknown-ground", help="Is the ground hard and flat?", rich_help_panel=RIG),
]
LevelControl = Annotated[
    Optional[bool],
    typer.Option(
        "--level-control/--no-level-control",
        help="Does the vehicle level itself (springs of air that keep its height)? Some rules have a band for each.",
        rich_help_panel=RIG,
    ),
]
LevelWithin = Annotated[
    Optional[float],
    _number(
        "--level-within",
        limits.SLOPE_MM_PER_M,
        metavar="MM_PER_M",
        panel=RIG,
        help="A level, laid at every place from sheet to coupling, showed so many mm per metre at most: how even the "
        "ground is. An even slope does no harm.",
    ),
]
BallLoad = Annotated[
    Optional[float],
    _number(
        "--ball-load",
        limits.BALL_LOAD_KG,
        metavar="KG",
        panel=SINKS,
        help="Ball load of the trailer standing level, as it will be towed; with a stand test it tells how far the ball sinks.",
    ),
]
StandMass = Annotated[
    Optional[float],
    _number(
        "--stand-mass", limits.STAND_MASS_KG, metavar="KG", panel=SINKS, help="Somebody of this mass stood on the bar."
    ),
]
StandDrop = Annotated[
    Optional[float],
    _number("--stand-drop", limits.STAND_DROP_MM, panel=SINKS, help="So far the ball went down under that mass."),
]
LoadDrop = Annotated[
    Optional[float],
    _number("--load-drop", limits.LOAD_DROP_MM, panel=SINKS, help="So far the vehicle's own load lowers the ball."),
]
BarX = Annotated[
    Optional[float], _number("--bar-x", limits.BAR_MM, panel=KIT, help="What a ruler reads on check bar X.")
]
BarY = Annotated[
    Optional[float], _number("--bar-y", limits.BAR_MM, panel=KIT, help="What a ruler reads on check bar Y.")
]
BallDiameter = Annotated[
    Optional[float],
    _number(
        "--ball-diameter",
        limits.BALL_DIAMETER_MM,
        panel=CENTRE,
        help="The ball's diameter: 50 where it is not said; 47.55 is 1 7/8 in, 50.8 is 2 in.",
    ),
]
PickU = Annotated[
    Optional[float],
    _number(
        "--pick-u",
        limits.PICK_U_PX,
        metavar="PX",
        panel=CENTRE,
        help="Standard uncertainty of a picked centre in pixels; 0.5 where it is not said.",
    ),
]
Rule = Annotated[
    Optional[str],
    typer.Option(
        metavar="NAME|FILE",
        help="Band rule; the coupling's own where it is not said. photomeasure rules lists them.",
        rich_help_panel=RULE,
    ),
]
Decision = Annotated[
    Optional[str],
    typer.Option(
        metavar="NAME[=NUMBER]",
        help="How uncertainty enters the verdict, in place of the rule's own: simple (the figure alone), "
        "guarded=R (keeps R x U away from each end; 1 if left out), max-false-acceptance=P (at most that "
        "probability of accepting a height that is outside; 0.025 if left out).",
        rich_help_panel=RULE,
    ),
]
TapeMm = Annotated[
    Optional[float],
    _number(
        "--tape",
        limits.TAPE_MM,
        panel=TAPE,
        help="A tape's reading, to keep, to judge by the same rule and to compare.",
    ),
]
TapeTo = Annotated[
    Optional[Literal["middle", "top", "tag"]],
    typer.Option(
        "--tape-to",
        help="Up to what the tape was read: the coupling's middle (where it is not said), the top of the ball, or the "
        "middle of the centre tag. The program does the subtraction.",
        rich_help_panel=TAPE,
    ),
]
TapeFlat = Annotated[
    Optional[float],
    _number(
        "--tape-flat",
        limits.FLAT_MM,
        panel=TAPE,
        help="With --tape-to top: the width of the flat on the ball's top; 0 for none.",
    ),
]
TapeClass = Annotated[
    Optional[str],
    typer.Option(
        "--tape-class",
        metavar="I|II|III",
        help="Class printed on the tape (MI-008); II where it is not said.",
        rich_help_panel=TAPE,
    ),
]
Camera = Annotated[
    Optional[Path],
    typer.Option(metavar="CAMERA.json", help="Calibrated camera: a profile, or OpenCV's YAML.", rich_help_panel=CAMERA),
]
BayFile = Annotated[
    Optional[Path],
    typer.Option(metavar="BAY.json", help="Surveyed markers in place of or beside the sheet.", rich_help_panel=CAMERA),
]


def _text(name: str) -> Callable[[Any], str]:
    """A parser for a line of text; InputError where it is too long or holds what cannot be seen."""

    def parse(typed: Any) -> str:
        return case_text(str(typed), name) or ""

    return parse


def _said(name: str, metavar: str, help: str) -> Any:
    return typer.Option(name, parser=_text(name), metavar=metavar, help=help, rich_help_panel=CASE)


Rig = Annotated[Optional[str], _said("--rig", "NAME", "The rig's name or registration.")]
CaseName = Annotated[Optional[str], _said("--case", "TEXT", "Number or name of the case.")]
By = Annotated[Optional[str], _said("--by", "NAME", "Who measures.")]
Place = Annotated[Optional[str], _said("--place", "TEXT", "Where the rig stood; never taken from the photograph.")]
Note = Annotated[Optional[str], _said("--note", "TEXT", "Anything else to be kept with it.")]
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
