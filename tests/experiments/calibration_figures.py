"""The figures of calibration and survey on real photographs, as tables.

    python -m tests.experiments.calibration_figures

Chessboard and ChArUco sets, Debian's opencv-doc sets, and the room of markers with its thirteen tapes (see
`tests/calib/finding/test_boards.py` and `tests/calib/survey/test_bundle.py` for sources). Each tape is also left out once and
predicted from the others, and each marker of the front wall is left out and its height predicted from the others.
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np

from calib.calibration.calibrate import Calibration
from calib.finding.boards import Charuco, Chessboard
from calib.survey.data import Surveyed
from calib.survey.solve import solve_survey
from photomeasure.solution.estimate import Estimate
from tests.bay.test_bay_room import WALL, crossing, held_out, on_its_wall, photographs, quads, seen_in
from tests.calib.finding.test_boards import calibrated, opencv_pictures
from tests.calib.survey.test_bundle import aligned_errors_mm, as_class_ii, room_survey
from tests.shared_data import folder

NAMES = ("fx", "fy", "cx", "cy", "k1", "k2", "p1", "p2", "k3")


def show(title: str, found: Calibration, published: dict[str, float]) -> None:
    print(
        f"\n{title}: RMS {found.rms_px:.4f} px, left out {found.holdout_px:.4f} px, {len(found.views)} photographs, "
        f"{found.corners_left_out} stray corners, lens model {found.chosen.model.name}"
    )
    sigma = np.sqrt(np.diag(found.covariance))
    for name, value, u in zip(NAMES, found.intrinsics, sigma, strict=True):
        truth = published.get(name)
        against = "" if truth is None or u == 0 else f"{truth:12.5f}{(value - truth) / u:+8.2f} u"
        print(f"  {name:<3}{value:12.5f} +/- {u:<10.5f}{against}")
    for warning in found.warnings:
        print(f"  warning: {warning}")


def cameras() -> None:
    chess = folder("chessboard-18x23")
    stated = json.loads((chess / "published.json").read_text(encoding="utf-8"))
    published = {name: stated[name] for name in NAMES[:4]} | dict(
        zip(NAMES[4:8], stated["distortion_k1_k2_p1_p2"], strict=True)
    )
    board = Chessboard(columns=18, rows=23, square_mm=1.0)
    show("chessboard-18x23 (published RMS 0.1909)", calibrated(tuple(sorted(chess.glob("*.png"))), board), published)
    charuco = folder("charuco-18x9")
    squares = Charuco(columns=18, rows=9, square_mm=20.0, marker_mm=15.0, dictionary="DICT_4X4_250")
    close = {"fx": 586.829, "fy": 586.829, "cx": 641.018, "cy": 356.170}
    show(
        "charuco-18x9 (published RMS 0.3011, rational)",
        calibrated(tuple(sorted(charuco.glob("*.jpg"))), squares),
        close,
    )
    left = {"fx": 535.916, "fy": 535.916, "cx": 342.283, "cy": 235.571}
    small = Chessboard(columns=9, rows=6, square_mm=25.0)
    show("opencv-doc left (published RMS 0.3926)", calibrated(opencv_pictures("left"), small), left)
    show("opencv-doc right", calibrated(opencv_pictures("right"), small), {})


def room() -> None:
    survey, lens, table = room_survey()
    by_class = replace(survey, tapes=as_class_ii(survey.tapes))
    point_alone = np.array([0.0, 0.0, 9.0, 9.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    loose = np.array([9.0, 9.0, 9.0, 9.0, 0.01, 0.02, 0.001, 0.001, 0.02])
    cases = {
        "published camera held": (survey, np.zeros(9)),
        "principal point alone, 1 % of fx": (survey, point_alone),
        "principal point alone, tapes of class II": (by_class, point_alone),
        "camera let loose by 1 % of fx": (survey, loose),
        "camera let loose, tapes of class II": (by_class, loose),
    }
    for title, (what, u) in cases.items():
        covariance = np.diag(u**2)
        found = solve_survey(what, lens, covariance)
        if not isinstance(found, Surveyed):
            print(title, found.reason)
            continue
        errors = aligned_errors_mm(found, table)
        print(
            f"\nroom, {title}: noise {found.noise_px:.3f} px, u {found.u_mm():.2f} mm; published corners, aligned: "
            f"RMS {np.sqrt((errors**2).mean()):.2f}, 95 % {np.quantile(errors, 0.95):.2f}, max {errors.max():.2f} mm, "
            f"{100 * (errors <= 3.0).mean():.0f} % within 3 mm"
        )
        worst = sorted(zip(errors.reshape(-1, 4).max(axis=1), found.markers, strict=True), key=lambda pair: -pair[0])
        print("  worst: " + ", ".join(f"marker {m.id} {off:.1f} mm ({m.photos} photographs)" for off, m in worst[:6]))
        print("  " + _heights(found))
        misses = np.array([check.residual_mm for check in found.tapes])
        print(f"  tapes: RMS {np.sqrt((misses**2).mean()):.2f}, worst {np.abs(misses).max():.2f} mm")
        for check in found.tapes:
            alone = replace(what, tapes=tuple(tape for tape in what.tapes if tape != check.tape))
            without = solve_survey(alone, lens, covariance)
            predicted = (
                "" if not isinstance(without, Surveyed) else _left_out(without, check.tape.start, check.tape.end)
            )
            numbers = f"{check.tape.distance_mm:8.0f}{check.residual_mm:+7.1f} mm"
            print(f"  {check.tape.name:<13}{numbers}, left out {predicted}")


def _heights(found: Surveyed) -> str:
    """Each marker of the front wall left out of each second photograph, and its height predicted from the others."""
    room, errors = folder("room-markers"), []
    table = on_its_wall({check.id: check.corners_mm for check in found.markers})
    for path in photographs(room, 2):
        seen = quads(seen_in(path))
        for marker in [m for m in WALL if m in seen and len(seen) >= 4]:
            others = [m for m in seen if m != marker]
            result = held_out(room, path, crossing(seen[marker]), others, table=table, lens=found.intrinsics)
            if isinstance(result, Estimate):
                errors.append(result.height_mm - float(table[marker][:, 2].mean()))
    return f"held-out heights ({len(errors)}): sd {np.std(errors):.2f}, worst {np.abs(errors).max():.2f} mm"


def _left_out(found: Surveyed, start: str, end: str) -> str:
    return f"{np.linalg.norm(found.points_mm[start] - found.points_mm[end]):8.1f} mm"


if __name__ == "__main__":
    cameras()
    room()
