"""The command line: it parses, the pipeline works. Heavy packages are imported inside the commands only."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

app = typer.Typer(
    name="photomeasure",
    help="Height of a tow coupling's centre from phone photographs with a printed target.\n\n"
    "Exit codes: 0 a measurement was made, whatever the verdict; 3 refused (the reason and a remedy are printed); "
    "2 wrong usage.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

BarX = Annotated[float | None, typer.Option("--bar-x", metavar="MM", help="What a rule reads on check bar X.")]
BarY = Annotated[float | None, typer.Option("--bar-y", metavar="MM", help="What a rule reads on check bar Y.")]
LevelGround = Annotated[
    bool | None, typer.Option("--level-ground/--unknown-ground", help="Is the ground hard and level?")
]
LevelWithin = Annotated[
    float | None,
    typer.Option(
        "--level-within",
        metavar="MM_PER_M",
        help="A level was read: from sheet to coupling the ground is level within so many mm per metre "
        "(one degree is 17.5).",
    ),
]
DecisionRule = Annotated[
    str | None,
    typer.Option(
        metavar="NAME[=NUMBER]",
        help="How uncertainty enters the verdict, in place of the rule's own: simple (the figure alone), "
        "guarded=R (guard band of R x U at each end; 1 if left out), max-false-acceptance=P (at most that "
        "probability of accepting a height that is outside; 0.025 if left out).",
    ),
]
BayFile = Annotated[
    Path | None, typer.Option(metavar="BAY.json", help="Surveyed markers in place of or beside the kit.")
]
MonteCarlo = Annotated[bool, typer.Option("--monte-carlo", help="Check the interval by Monte Carlo (slower).")]


@app.command()
def target(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for target.pdf and target.json.")],
    paper: Annotated[str, typer.Option("--paper", help="a4, a3 or letter.")] = "a4",
) -> None:
    """Write the kit to print: instructions, upright sheet, ground sheet, centre tags."""
    from photomeasure.commands.target import target as run

    raise typer.Exit(run(out, paper))


@app.command()
def measure(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO...", help="Photographs of one rig standing still.")],
    coupling: Annotated[str, typer.Option(help="ball-50 or pin.")] = "ball-50",
    rule: Annotated[
        str | None, typer.Option(metavar="NAME|FILE", help="Band rule; by default the coupling's own.")
    ] = None,
    decision: DecisionRule = None,
    camera: Annotated[
        Path | None, typer.Option(metavar="CAMERA.json", help="Calibrated camera: a profile, or OpenCV's YAML.")
    ] = None,
    bay: BayFile = None,
    centre: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y",
            help="Coupling centre in pixels of the upright picture, (0, 0) the centre of the top-left pixel; once per photograph, in order.",
        ),
    ] = None,
    pick_u: Annotated[
        float, typer.Option("--pick-u", metavar="PX", help="Standard uncertainty of a picked centre, pixels.")
    ] = 0.5,
    ball_diameter: Annotated[
        float, typer.Option("--ball-diameter", metavar="MM", help="50, 47.55 (1 7/8 in) or 50.8 (2 in).")
    ] = 50.0,
    bar_x: BarX = None,
    bar_y: BarY = None,
    coupled: Annotated[bool | None, typer.Option("--coupled/--uncoupled", help="Is the trailer connected?")] = None,
    laden: Annotated[bool | None, typer.Option("--laden/--unladen", help="Is the rig loaded?")] = None,
    level_ground: LevelGround = None,
    level_within: LevelWithin = None,
    tape: Annotated[
        float | None, typer.Option("--tape", metavar="MM", help="Tape reading, to keep and compare.")
    ] = None,
    tape_class: Annotated[
        str | None,
        typer.Option(
            "--tape-class", metavar="I|II|III", help="Class printed on the tape (MI-008); II where it is not said."
        ),
    ] = None,
    monte_carlo: MonteCarlo = False,
    json_file: Annotated[Path | None, typer.Option("--json", metavar="FILE", help="Write the record here.")] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Write annotated pictures, a report (PDF) and the record here."),
    ] = None,
) -> None:
    """Measure the coupling centre's height, with its interval, verdict and what to do next.

    Exit codes: 0 a measurement was made, whatever the verdict; 3 refused, with reason and remedy; 2 wrong usage.
    """
    from photomeasure.commands.measure import Options, run

    raise typer.Exit(
        run(
            Options(
                photos=tuple(photos), coupling=coupling, rule=rule, decision=decision, camera=camera, bay=bay, centres=tuple(centre or ()),
                pick_u_px=pick_u, ball_diameter_mm=ball_diameter, bar_x_mm=bar_x, bar_y_mm=bar_y, coupled=coupled,
                laden=laden, level_ground=level_ground, level_within_mm_per_m=level_within, tape_mm=tape, tape_class=tape_class,
                monte_carlo=monte_carlo, json_file=json_file, out=out,
            )
        )
    )  # fmt: skip


@app.command()
def calibrate(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO...", help="10 to 20 photographs of one board, turned and tilted, all over the frame."
        ),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="CAMERA.json", help="Where the camera profile goes.")],
    chessboard: Annotated[
        str | None,
        typer.Option(metavar="COLSxROWSxMM", help="Inner corners and square of a chessboard, such as 9x6x25."),
    ] = None,
    charuco: Annotated[
        str | None,
        typer.Option(metavar="COLSxROWSxMMxMARKER", help="Squares, square and marker of a ChArUco board."),
    ] = None,
    dictionary: Annotated[str, typer.Option(help="OpenCV dictionary of the ChArUco board.")] = "DICT_5X5_50",
    legacy: Annotated[
        bool, typer.Option("--legacy", help="ChArUco board drawn the way OpenCV did before 4.6.")
    ] = False,
    bar_x: Annotated[
        float | None,
        typer.Option("--bar-x", metavar="MM", help="What a rule reads on check bar X of the kit's sheet."),
    ] = None,
    bar_y: Annotated[
        float | None, typer.Option("--bar-y", metavar="MM", help="What a rule reads on check bar Y.")
    ] = None,
    residuals: Annotated[
        Path | None, typer.Option(metavar="PNG", help="Write a picture of the residuals here.")
    ] = None,
    yaml: Annotated[Path | None, typer.Option(metavar="YAML", help="Write the camera in OpenCV's form here.")] = None,
    remember: Annotated[
        bool, typer.Option("--remember", help="Also keep it where measure looks for cameras by itself.")
    ] = False,
) -> None:
    """Calibrate a camera from photographs of the kit's upright sheet, a chessboard or a ChArUco board."""
    from photomeasure.commands.calibrate import CalibrateOptions, run

    raise typer.Exit(
        run(
            CalibrateOptions(
                photos=tuple(photos), out=out, chessboard=chessboard, charuco=charuco, dictionary=dictionary, legacy=legacy,
                bar_x_mm=bar_x, bar_y_mm=bar_y, residuals=residuals, yaml=yaml, remember=remember,
            )
        )
    )  # fmt: skip


@app.command()
def bay(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO...", help="Many photographs of the markers, from all over the bay.")
    ],
    survey: Annotated[
        Path, typer.Option("--survey", metavar="SURVEY.toml", help="Dictionary, tape distances, points on the ground.")
    ],
    out: Annotated[Path, typer.Option("--out", metavar="BAY.json", help="Where the bay file goes.")],
    camera: Annotated[
        Path | None, typer.Option(metavar="CAMERA.json", help="Calibrated camera that took them all.")
    ] = None,
) -> None:
    """Survey the markers of a measuring bay from photographs, tape distances and points on the ground."""
    from photomeasure.bay.made import BayOptions
    from photomeasure.commands.bay import run

    raise typer.Exit(run(BayOptions(photos=tuple(photos), survey=survey, out=out, camera=camera)))


@app.command()
def plan(
    setup: Annotated[
        Path, typer.Argument(metavar="SETUP.toml", help="Vehicle, trailer, and the drops and rises to be had.")
    ],
    json_file: Annotated[Path | None, typer.Option("--json", metavar="FILE", help="Write the plan here.")] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Write the side view, a report (PDF) and the plan here."),
    ] = None,
) -> None:
    """Plan a rig before pick-up: coupled height, pitch, loads, and which drop or rise puts it right."""
    from photomeasure.commands.plan import plan as run

    raise typer.Exit(run(setup, json_file, out))


@app.command()
def verify(
    records: Annotated[
        list[Path], typer.Argument(metavar="RECORD.json...", help="Records, as measure and batch write them.")
    ],
    photos: Annotated[
        Path | None,
        typer.Option(
            "--photos",
            metavar="DIR",
            help="Look here for the photographs first, by name and by digest; else at the stated path and beside the record.",
        ),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write what came of it here.")
    ] = None,
) -> None:
    """Measure again from the photographs that a record names, and compare every figure.

    Rule, options, camera and bay are in the record itself; photographs are told by their SHA-256. Figures count as the
    same within half of the last printed digit.

    Exit codes: 0 the same; 3 differs, cannot be repeated (a photograph is missing or changed, another version), or a file
    is no record; 2 wrong usage, such as a path at which there is no file.
    """
    from photomeasure.commands.verify import run

    raise typer.Exit(run(tuple(records), photos, json_file))


@app.command()
def audit(
    ledger: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[LEDGER]...", help="Records, or folders with records in them; by default this folder."),
    ] = None,
    json_file: Annotated[Path | None, typer.Option("--json", metavar="FILE", help="Write the audit here.")] = None,
) -> None:
    """Photographs against tapes so far: bias, RMS, En, coverage, Birge ratio, in words, and what to do.

    Every record with a tape's reading counts; of records of the same photographs the last one.

    Exit codes: 0 whatever the audit says; 3 not everything could be read (a record is broken, a named file is no record, a
    named place is not there), and the others were audited; 2 wrong usage, such as a path of which nothing is there.
    """
    from photomeasure.commands.audit import run

    raise typer.Exit(run(tuple(ledger or [Path()]), json_file))


@app.command()
def batch(
    source: Annotated[
        Path,
        typer.Argument(
            metavar="FOLDER|LIST.csv",
            help="Folder: each sub-folder one rig, each single photograph one rig. List: one row a photograph, columns "
            "rig, photo and any of bar_x_mm, bar_y_mm, centre_x, centre_y, pick_u_px, ball_diameter_mm, coupled, laden, "
            "level_ground, level_within_mm_per_m, coupling, rule, decision, tape_mm, tape_class, camera, bay.",
        ),
    ],
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Folder for one record (JSON) per rig, and table.csv.")
    ],
    jobs: Annotated[
        int | None, typer.Option("--jobs", metavar="N", help="Rigs at a time; by default one per processor.")
    ] = None,
    coupling: Annotated[str | None, typer.Option(help="ball-50 or pin; by default ball-50.")] = None,
    rule: Annotated[
        str | None, typer.Option(metavar="NAME|FILE", help="Band rule; by default the coupling's own.")
    ] = None,
    decision: DecisionRule = None,
    camera: Annotated[Path | None, typer.Option(metavar="CAMERA.json", help="Calibrated camera.")] = None,
    bay: BayFile = None,
    ball_diameter: Annotated[float | None, typer.Option("--ball-diameter", metavar="MM", help="By default 50.")] = None,
    bar_x: BarX = None,
    bar_y: BarY = None,
    coupled: Annotated[bool | None, typer.Option("--coupled/--uncoupled", help="Are trailers connected?")] = None,
    laden: Annotated[bool | None, typer.Option("--laden/--unladen", help="Are the rigs loaded?")] = None,
    level_ground: LevelGround = None,
    level_within: LevelWithin = None,
    pick_u: Annotated[
        float | None,
        typer.Option("--pick-u", metavar="PX", help="Standard uncertainty of picked centres; by default 0.5."),
    ] = None,
    monte_carlo: MonteCarlo = False,
    pictures: Annotated[
        bool, typer.Option("--pictures", help="Write each rig's annotated pictures beside its record.")
    ] = False,
) -> None:
    """Measure many rigs: one record each, one table. Run again, it goes on where it stopped.

    Options hold for every rig of which the list says nothing else. A rig whose record is there, made from the same
    photographs with the same options, is kept. What goes wrong with one rig does not stop the others.

    Exit codes: 0 every rig was measured, whatever the verdicts; 3 some were refused or failed (the table says which and
    why); 2 wrong usage; 130 stopped by Ctrl-C, with what is finished kept.
    """
    from photomeasure.commands.batch import BatchOptions, run

    raise typer.Exit(
        run(
            BatchOptions(
                source=source, out=out, jobs=jobs, coupling=coupling, rule=rule, camera=camera, ball_diameter_mm=ball_diameter,
                pick_u_px=pick_u, bar_x_mm=bar_x, bar_y_mm=bar_y, coupled=coupled, laden=laden, level_ground=level_ground,
                level_within_mm_per_m=level_within, decision=decision, bay=bay, monte_carlo=monte_carlo, pictures=pictures,
            )
        )
    )  # fmt: skip


@app.command()
def serve(
    host: Annotated[
        str, typer.Option("--host", metavar="ADDRESS", help="127.0.0.1 is this machine only; 0.0.0.0 its network too.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", metavar="N", help="0 chooses a free one.")] = 0,
) -> None:
    """Measure on a page in a browser, on this machine or on a phone in its network, until Ctrl-C."""
    from photomeasure.commands.serve import run

    raise typer.Exit(run(host, port))


def main() -> None:
    """Entry point: wrong input is printed as what happened, what was expected and what to do next; exit code 2."""
    try:
        app()
    except Exception as error:
        raise SystemExit(_explain(error)) from None


def _explain(error: Exception) -> int:
    """Print an error that a person can act on; anything that is a fault of the program is raised again."""
    from calib.outcome.errors import InputError

    if isinstance(error, InputError):
        print(f"photomeasure: {error}", file=sys.stderr)
        return 2
    if isinstance(error, ImportError) and ".so" in str(error):
        print(
            f"photomeasure: OpenCV could not start: {error}.\n"
            "  Expected: the system libraries libGL, GLib and libxcb.\n"
            "  Next:     on Debian or Ubuntu: apt-get install libgl1 libglib2.0-0 libxcb1",
            file=sys.stderr,
        )
        return 2
    raise error
