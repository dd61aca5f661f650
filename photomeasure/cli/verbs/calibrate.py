"""`photomeasure calibrate`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from photomeasure.cli import options as o
from photomeasure.cli.app import PREPARE, command


@command(
    "calibrate",
    panel=PREPARE,
    examples=(
        "photomeasure calibrate board/*.jpg --out phone.json --bar-x 180 --bar-y 250 --remember",
        "photomeasure calibrate board/*.jpg --chessboard 9x6x25 --out phone.json",
    ),
)
def calibrate(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO", help="10 to 20 photographs of one board, turned and tilted, all over the frame."
        ),
    ],
    out: Annotated[Path, typer.Option("--out", metavar="CAMERA.json", help="Where the camera profile goes.")],
    chessboard: Annotated[
        Optional[str],
        typer.Option(metavar="COLSxROWSxMM", help="Inner corners and square of a chessboard, such as 9x6x25."),
    ] = None,
    charuco: Annotated[
        Optional[str],
        typer.Option(metavar="COLSxROWSxMMxMARKER", help="Squares, square and marker of a ChArUco board."),
    ] = None,
    dictionary: Annotated[
        str, typer.Option(metavar="DICT", help="OpenCV dictionary of the ChArUco board.")
    ] = "DICT_5X5_50",
    legacy: Annotated[
        bool, typer.Option("--legacy", help="ChArUco board drawn the way OpenCV did before 4.6.")
    ] = False,
    bar_x: o.BarX = None,
    bar_y: o.BarY = None,
    residuals: Annotated[
        Optional[Path], typer.Option(metavar="PNG", help="Write a picture of the residuals here.")
    ] = None,
    yaml: Annotated[
        Optional[Path], typer.Option(metavar="YAML", help="Write the camera in OpenCV's form here.")
    ] = None,
    remember: Annotated[
        bool, typer.Option("--remember", help="Also keep it where measure looks for cameras by itself.")
    ] = False,
    language: o.Language = None,
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
