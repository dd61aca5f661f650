"""A customer calibrates with the kit's own sheet: drawn photographs of invented phones and stretched prints.

    python -m tests.experiments.calibration_kit [--photos 12] [--phones 4] [--keep FOLDER]

The sheet hangs on a wall; the phone is held before it as the instructions say: 0.48 to 0.8 m away, tilted, turned by
quarters, the sheet all over the frame. Lens, print (either axis by a scale of its own), light and what the phone makes
of the picture are drawn as for `picture_study`; check bars are read to half a millimetre. Each set is calibrated twice:
the print taken at the rule's word, and its stretch solved for as the product does.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np

from calib.calibration.calibrate import Calibration, calibrate
from calib.kit.kit import kit
from calib.kit.sheets import target_pdf
from photomeasure.seen.board_photos import BoardPhotos, KitSheet, board_photos
from tests.scenes import Backdrop, Camera, Ground, PrintedSheet, Scene, pose_looking_at, render, save_jpeg
from tests.scenes import conditions as drawn
from tests.scenes.camera import FloatArray
from tests.scenes.conditions import CONDITIONS
from tests.scenes.phone import draw_lens, draw_light, draw_look
from tests.scenes.printed import sheet_texture

SIZE_PX = (2400, 1800)
BAR_MM = 150.0
NAMES = ("fx", "fy", "cx", "cy", "k1", "k2", "p1", "p2")
WALL_HEIGHT_MM = 1200.0  # of the sheet's lower edge


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One phone with one print: its pictures, the truth, and what the customer read on the check bars, mm."""

    photos: tuple[Path, ...]
    intrinsics: FloatArray  # (9,)
    scale: tuple[float, float]
    bars_mm: tuple[float, float]

    @property
    def stretch(self) -> float:
        """How much longer the print is along y, against x, than the bars say (what the product solves for)."""
        true, read = (axes[1] / axes[0] for axes in (self.scale, self.bars_mm))
        return true / read - 1.0


@cache
def printed() -> PrintedSheet:
    """The upright page of A4, uncut."""
    sheet = sheet_texture(target_pdf(kit("a4")), kit("a4").upright.page)
    return replace(sheet, anchor_mm=(0.5 * sheet.size_mm[0], 0.0))


# where the sheet's middle falls in the frame, shares of width and height from its middle: all over, nine places
PLACES = (
    (0.0, 0.0),
    (-1.0, -1.0),
    (1.0, 1.0),
    (1.0, -1.0),
    (-1.0, 1.0),
    (0.0, -1.0),
    (1.0, 0.0),
    (0.0, 1.0),
    (-1.0, 0.0),
)
REACH = np.array([0.29, 0.24])


def poses(rng: np.random.Generator, intrinsics: FloatArray, count: int) -> list[FloatArray]:
    """Cameras before the sheet: from every side within 40 degrees, by quarter turns, the sheet all over the frame."""
    middle = np.array([0.0, 0.0, WALL_HEIGHT_MM + 0.5 * printed().size_mm[1]])
    found = []
    for number in range(count):
        bearing = 2.0 * np.pi * number / count + rng.normal(0.0, 0.2)
        off = np.deg2rad(0.0 if number == 0 else rng.uniform(15.0, 40.0))
        away = np.array([np.sin(off) * np.cos(bearing), -np.cos(off), np.sin(off) * np.sin(bearing)])
        roll = 0.5 * np.pi * ((number + number // 9) % 4) + rng.normal(0.0, 0.06)
        cam_from_world = pose_looking_at(middle + rng.uniform(480.0, 800.0) * away, middle, roll_rad=float(roll))
        x, y = np.array(PLACES[number % 9]) * REACH * SIZE_PX / intrinsics[:2]
        aside = np.eye(4)
        aside[:3, :3] = cv2.Rodrigues(np.arctan(np.hypot(x, y)) * np.array([-y, x, 0.0]) / max(np.hypot(x, y), 1e-9))[0]
        found.append(aside @ cam_from_world)
    return found


def photograph(seed: int, folder: Path, count: int) -> Session:
    """Draw a phone, a print and `count` photographs."""
    rng = np.random.default_rng(seed)
    intrinsics, exif = draw_lens(rng, SIZE_PX)
    common, feed = drawn.PRINT_SCALE * rng.standard_normal(), drawn.PRINT_FEED_HALF_WIDTH * rng.uniform(-1.0, 1.0)
    scale = (1.0 + common + 0.5 * feed, 1.0 + common - 0.5 * feed)
    bars = tuple(round(BAR_MM * axis / drawn.BAR_READING_STEP_MM) * drawn.BAR_READING_STEP_MM for axis in scale)
    group = CONDITIONS["followed"]
    light = draw_light(rng, group)
    look = replace(draw_look(rng, group, light, SIZE_PX), grey=True)
    plane, placed = printed().placed(
        "upright", np.array([0.0, 0.0, WALL_HEIGHT_MM]), np.array([1.0, 0, 0]), np.array([0, 0, 1.0]), print_scale=scale
    )
    scene = Scene(
        cameras=tuple(
            Camera(intrinsics=intrinsics, size_px=SIZE_PX, cam_from_world=pose)
            for pose in poses(rng, intrinsics, count)
        ),
        surfaces=(plane,),
        light=light,
        ground=Ground(),
        backdrop=Backdrop(kind="brick", wall_y_mm=10.0, wall_height_mm=3000.0, albedo=0.3),
        sheets=(placed,),
        look=look,
        exif=exif,
    )
    paths = [_save(scene, number, rng, folder / f"phone{seed}-{number:02d}.jpg", exif) for number in range(count)]
    return Session(photos=tuple(paths), intrinsics=intrinsics, scale=scale, bars_mm=(bars[0], bars[1]))


def _save(
    scene: Scene, number: int, rng: np.random.Generator, path: Path, exif: Mapping[str, str | float | int]
) -> Path:
    with np.errstate(invalid="ignore"):  # rays along the ground, which the wall hides
        save_jpeg(render(scene, None, rng, photo=number), path, scene.look.jpeg_quality, exif)
    return path


def measured(session: Session) -> tuple[BoardPhotos, KitSheet]:
    """The sheets found, as `photomeasure calibrate` finds them."""
    target = KitSheet(bar_x_mm=session.bars_mm[0], bar_y_mm=session.bars_mm[1])
    found = board_photos(session.photos, target, lambda doing, done: None)
    if not isinstance(found, BoardPhotos):
        raise TypeError(found.reason)
    return found, target


def show(title: str, found: Calibration, truth: FloatArray) -> None:
    """Errors against what was drawn, px and u."""
    sigma = np.sqrt(np.diag(found.covariance))
    print(f"  {title}: RMS {found.rms_px:.3f}, left out {found.holdout_px:.3f} px, {found.chosen.model.name}")
    for name, value, u, true in zip(NAMES, found.intrinsics, sigma, truth, strict=False):
        if u > 0:
            print(f"    {name}: {value:.5g}, off {value - true:+.3g}, u {u:.2g} ({(value - true) / u:+.1f} u)")


def main(phones: int, count: int, folder: Path) -> None:
    for seed in range(1, phones + 1):
        session = photograph(seed, folder, count)
        views, target = measured(session)
        print(
            f"phone {seed}: fx {session.intrinsics[0]:.1f} px, print stretched by {100 * session.stretch:+.3f} %, ",
            end="",
        )
        print(f"bars read {session.bars_mm[0]:g} and {session.bars_mm[1]:g} mm, {len(views.views)} photographs used")
        for title, ratio_u in (("print at the rule's word", 0.0), ("print solved for", target.ratio_u())):
            found = calibrate(views.views, views.size_px, focal_px=views.focal_px, ratio_u=ratio_u)
            if not isinstance(found, Calibration):
                print(f"  {title}: {found.reason}")
                continue
            show(title, found, session.intrinsics)
            if found.print_ratio is not None:
                share = 100 * found.print_ratio.value, 100 * found.print_ratio.u
                print(f"    stretch found {share[0]:+.3f} +/- {share[1]:.3f} %")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--phones", type=int, default=4)
    parser.add_argument("--photos", type=int, default=12)
    parser.add_argument("--keep", type=Path, help="folder for the photographs; otherwise they are thrown away")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        kept = options.keep or Path(scratch)
        kept.mkdir(parents=True, exist_ok=True)
        main(options.phones, options.photos, kept)
