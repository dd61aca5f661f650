"""`photomeasure calibrate`: photographs of a board to a camera profile, and what to photograph next."""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from calib.words.said import figures, joined, number, said, say, shown
from photomeasure.commands.exit_codes import EXIT_DONE, EXIT_REFUSED

if TYPE_CHECKING:
    from calib.calibration.calibrate import Calibration
    from calib.outcome.refusal import Refusal
    from calib.profile.profile import Profile
    from photomeasure.seen.board_photos import Target


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrateOptions:
    """The command line as typed.

    chessboard:  COLUMNSxROWSxMM of inner corners, such as 9x6x25; charuco: COLUMNSxROWSxMMxMARKER_MM of squares.
    residuals:   where the picture of the residuals goes; yaml: where OpenCV's form of the camera goes.
    """

    photos: tuple[Path, ...]
    out: Path
    chessboard: str | None = None
    charuco: str | None = None
    dictionary: str = "DICT_5X5_50"
    legacy: bool = False
    bar_x_mm: float | None = None
    bar_y_mm: float | None = None
    residuals: Path | None = None
    yaml: Path | None = None
    remember: bool = False


def run(options: CalibrateOptions) -> int:
    """Calibrate, write the profile, say what it rests on; exit code 0, or 3 where it is refused.

    Raises InputError where the board's numbers or the paths are wrong.
    """
    from calib.calibration.calibrate import UnsoundCalibration
    from calib.outcome.files import check_output, write_output
    from calib.outcome.refusal import Refusal
    from calib.profile.opencv_yaml import to_opencv_yaml
    from photomeasure.seen.board_photos import board_photos
    from photomeasure.seen.calibrated import calibrated, profile_made
    from photomeasure.seen.camera_for import profile_folder

    target = _target(options)
    for path, kind in ((options.out, "camera"), (options.yaml, "opencv-camera"), (options.residuals, "residuals")):
        if path is not None:
            check_output(path, kind, options.photos)
    with _Progress() as progress:
        found = board_photos(options.photos, target, progress)
        if isinstance(found, Refusal):
            return _refused(found, ())
        calibration = calibrated(found, target, progress)
    looked_at = calibration.found if isinstance(calibration, UnsoundCalibration) else calibration
    if options.residuals is not None and not isinstance(looked_at, Refusal):
        from photomeasure.shown.picture.residuals import residual_picture

        write_output(options.residuals, residual_picture(looked_at), options.photos)
    if isinstance(calibration, Refusal):
        return _refused(calibration, tuple(joined((gone.name, gone.reason), ": ") for gone in found.unused))
    profile = profile_made(calibration, found, target)
    profile.save(options.out, options.photos)
    if options.remember:
        profile.save(profile_folder() / options.out.name)
    if options.yaml is not None:
        to_opencv_yaml(profile, options.yaml)
    print("\n".join(report(calibration, profile, options.out)))
    return EXIT_DONE


def _target(options: CalibrateOptions) -> Target:
    from calib.finding.boards import Charuco, Chessboard
    from calib.outcome.errors import InputError
    from photomeasure.asked.limits import BAR_MM
    from photomeasure.seen.board_photos import KitSheet

    if options.chessboard and options.charuco:
        raise InputError(
            said("Both --chessboard and --charuco are given."),
            expected=said("one board, or neither for the kit's own sheet"),
            remedy=said("leave one of them out"),
        )
    if options.chessboard:
        columns, rows, square = _numbers(
            options.chessboard, 3, "--chessboard", said("9x6x25: inner corners, mm of a square")
        )
        return Chessboard(columns=int(columns), rows=int(rows), square_mm=square)
    if options.charuco:
        form = said("7x5x30x21: squares, mm of a square, mm of a marker")
        columns, rows, square, marker = _numbers(options.charuco, 4, "--charuco", form)
        return Charuco(
            columns=int(columns),
            rows=int(rows),
            square_mm=square,
            marker_mm=marker,
            dictionary=options.dictionary,
            legacy=options.legacy,
        )
    for name, bar in (("--bar-x", options.bar_x_mm), ("--bar-y", options.bar_y_mm)):
        BAR_MM.check(name, bar)
    return KitSheet(bar_x_mm=options.bar_x_mm, bar_y_mm=options.bar_y_mm)


def _numbers(text: str, count: int, option: str, form: str) -> list[float]:
    from calib.outcome.errors import InputError

    try:
        numbers = [float(part) for part in text.lower().split("x")]
    except ValueError:
        numbers = []
    whole = all(number == int(number) for number in numbers[:2] if math.isfinite(number))
    if len(numbers) != count or not all(math.isfinite(number) for number in numbers) or not whole:
        raise InputError(
            said("{option} {text} does not describe a board.", option=option, text=repr(text)),
            expected=said("{count} numbers with x between them, such as {form}", count=count, form=form),
            remedy=said("count along both sides and measure a square, in millimetres"),
        )
    return numbers


def report(calibration: Calibration, profile: Profile, path: Path) -> list[str]:
    """What the calibration found, in lines for a terminal."""
    sigma = [math.sqrt(max(float(value), 0.0)) for value in calibration.covariance.diagonal()]
    fx, fy, cx, cy = (
        figures(f"{value:.1f} \N{PLUS-MINUS SIGN} {u:.1f}")
        for value, u in zip(calibration.intrinsics[:4], sigma[:4], strict=True)
    )
    corners = sum(len(view.image_px) for view in calibration.views)
    photographs = say(
        "Photographs used: {photographs}, {corners} corners", photographs=len(calibration.views), corners=corners
    )
    if calibration.corners_left_out:
        photographs = say(
            "Photographs used: {photographs}, {corners} corners ({stray} stray corners left out)",
            photographs=len(calibration.views),
            corners=corners,
            stray=calibration.corners_left_out,
        )
    lines = [
        say("Camera profile:   {path}", path=path),
        photographs,
        say("Focal length:     {fx} px across, {fy} px down", fx=fx, fy=fy),
        say(
            "Principal point:  {cx}, {cy} px of {width} x {height}",
            cx=cx,
            cy=cy,
            width=calibration.size_px[0],
            height=calibration.size_px[1],
        ),
        say(
            "RMS:              {rms_px:.3f} px; on photographs left out {holdout_px:.3f} px",
            rms_px=calibration.rms_px,
            holdout_px=calibration.holdout_px,
        ),
        *_ratio(calibration),
        *_distance(profile),
        say("Lens models tried (error on photographs left out, px):"),
    ]
    for candidate in calibration.candidates:
        mark = "*" if candidate.model.name == calibration.chosen.model.name else " "
        lines.append(
            f"  {mark} {shown(candidate.model.name):<28}{number(candidate.holdout_rms_px(calibration.views), '9.3f')}"
        )
    lines += [
        say("Left out:         {file}: {reason}", file=gone.file, reason=gone.reason) for gone in profile.left_out
    ]
    lines += [say("Warning:          {sentence}", sentence=sentence) for sentence in profile.warnings]
    lines += [say("Next photographs: {sentence}", sentence=sentence) for sentence in calibration.next_photos]
    lines.append(
        say(
            "The uncertainties are of these photographs; measure adds what focus and stabiliser change, and, for "
            "photographs taken more than an hour away, what a camera drifts."
        )
    )
    return lines


def _ratio(calibration: Calibration) -> list[str]:
    ratio = calibration.print_ratio
    if ratio is None:
        return []
    share = figures(f"{100 * abs(ratio.value):.2f} \N{PLUS-MINUS SIGN} {100 * ratio.u:.2f} %")
    if ratio.value >= 0:
        return [say("The print:        {share} longer for its width than stated (solved for)", share=share)]
    return [say("The print:        {share} shorter for its width than stated (solved for)", share=share)]


def _distance(profile: Profile) -> list[str]:
    if profile.distance_mm is None or profile.camera.focal_mm is None:
        return []
    return [
        say(
            "Distance:         {m:.2f} m to the board; a lens focused elsewhere may differ by {percent:.1f} % (less from "
            "farther away)",
            m=profile.distance_mm / 1000,
            percent=100 * profile.focus_share(),
        )
    ]


def _refused(refusal: Refusal, more: tuple[str, ...]) -> int:
    print(say("Cannot calibrate: {reason}", reason=refusal.reason), file=sys.stderr)
    for line in more:
        print(say("  Left out: {line}", line=line), file=sys.stderr)
    print(say("  Next:     {remedy}", remedy=refusal.remedy), file=sys.stderr)
    return EXIT_REFUSED


class _Progress:
    """A bar on a terminal, nothing elsewhere."""

    def __enter__(self) -> _Progress:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn

        console = Console(stderr=True)
        self._bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            console=console,
            transient=True,
            disable=not console.is_terminal,
        )
        self._bar.start()
        self._task = self._bar.add_task("", total=1.0)
        return self

    def __exit__(self, *_: object) -> None:
        if not self._bar.disable:  # rich before 14.3 leaves an empty line even then
            self._bar.stop()

    def __call__(self, doing: str, done: float) -> None:
        self._bar.update(self._task, description=shown(doing), completed=done)
