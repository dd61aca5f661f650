"""Truth files: what is in the pictures, as TOML beside them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scene.lens import Lens
from scene.rigs import Rig

if TYPE_CHECKING:
    from scene.hands import Hands

_HEAD = """\
# Truth of an invented scene: the "Ferncombe hire yard", its vehicles and its phone do not exist.
# The pictures are path-traced by make_scenes.py; everything below is exact, nothing was measured in a picture.
# centre_px: in each file's picture as a person sees it (EXIF orientation applied), (0, 0) is the centre of the
# top-left pixel; the centre of the bare ball, or the middle of the centre tag where the head hides the ball.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """One photograph's truth."""

    file: str
    lens: Lens
    centre_px: tuple[float, float]  # what a person points at
    hidden_px: tuple[float, float]  # the coupling centre itself, seen or not


def as_toml(rig: Rig, photos: list[Photo], *, kit: str, camera: str, hands: Hands | None = None) -> str:
    """The whole file's text. hands: what was done by hand; without it print and ground are exact."""
    bar_x_mm, bar_y_mm = (150.0, 150.0) if hands is None else hands.bars_mm
    rise_mm = 0.0 if hands is None else hands.rise_mm
    lines = [
        _HEAD,
        f'what = "{rig.words}"',
        "invented = true",
        f'kit = "{kit}"',
        f"height_mm = {rig.height_mm - rise_mm:.3f}",
    ]
    lines.append("files = [" + ", ".join(f'"{photo.file}"' for photo in photos) + "]")
    lines.append("centre_px = [" + ", ".join(_pair(photo.centre_px) for photo in photos) + "]")
    for key, value in (("coupled", rig.coupled), ("laden", rig.laden), ("level_ground", rig.level_ground)):
        lines.append(f"{key} = {str(value).lower()}")
    lines += [
        'coupling = "ball-50"',
        f'finish = "{rig.finish}"',
        f'camera = "{camera}"',
        f"bar_x_mm = {bar_x_mm:.1f}",
        f"bar_y_mm = {bar_y_mm:.1f}",
    ]
    if hands is not None:
        across, up = hands.print_scale
        lines += [
            f"bars_drawn_mm = {list(hands.drawn_mm)}",
            f"print_scale = [{across:.6f}, {up:.6f}]  # of the printed size, on the sheet's two axes, when the bars were read",
            f"growth = {hands.growth:.6f}  # of paper and print since then",
            f"ruler_mm = {hands.ruler_mm:+.3f}  # by which the ruler read too long",
            f"below_foot_mm = {hands.below_mm:.3f}  # paper left below the middle of the foot line",
            f"askew_deg = {hands.askew_deg:.4f}  # by which the cut falls to the right of the line",
            f"ground_rise_mm = {rise_mm:.3f}  # from the ground under the sheet to the ground under the coupling",
            f"tag_off_mm = {rig.tag_off_mm:.3f}  # how far above the centre the tag was stuck",
        ]
    stand = rig.standing
    lines += [
        "",
        "[sheet]  # the upright sheet; x right, y away from the viewer, lean > 0: its top is further away",
    ]
    lines += [f"x_mm = {stand.x_mm:.3f}", f"y_mm = {stand.y_mm:.3f}", f"gap_mm = {stand.gap_mm:.3f}"]
    lines += [
        f"lean_deg = {stand.lean_deg:.4f}",
        f"roll_deg = {stand.roll_deg:.4f}",
        f"turn_deg = {stand.turn_deg:.4f}",
    ]
    if rig.lying is not None:
        lie = rig.lying
        lines += [
            "",
            "[ground_sheet]  # the middle of its cut edge; its page's top points at the viewer, turned by turn_deg",
        ]
        lines += [f"x_mm = {lie.x_mm:.3f}", f"y_mm = {lie.y_mm:.3f}", f"turn_deg = {lie.turn_deg:.4f}"]
        lines += [f"lift_mm = {lie.lift_mm:.3f}", f"tilt_deg = [{lie.tilt_deg[0]:.4f}, {lie.tilt_deg[1]:.4f}]"]
    lines += [
        "",
        "[centre]  # the coupling centre",
        f"x_mm = {rig.ball_mm[0]:.3f}",
        f"y_mm = {rig.ball_mm[1]:.3f}",
        f"z_mm = {rig.height_mm:.3f}",
    ]
    for photo in photos:
        lines += ["", *_photo(photo)]
    return "\n".join(lines) + "\n"


def _pair(point: tuple[float, float]) -> str:
    return f"[{point[0]:.3f}, {point[1]:.3f}]"


def _photo(photo: Photo) -> list[str]:
    lens = photo.lens
    rows = ", ".join(
        "[" + ", ".join(f"{value:.9g}" for value in row) + "]" for row in lens.cam_from_world[:3]
    )
    return [
        "[[photo]]  # in the picture as a person sees it; distortion x (1 + k1 r^2 + k2 r^4)",
        f'file = "{photo.file}"',
        f"size_px = [{lens.width_px}, {lens.height_px}]",
        f"focal_px = {lens.focal_px:.4f}",
        f"principal_px = {_pair((lens.cx_px, lens.cy_px))}",
        f"k1 = {lens.k1:.6f}",
        f"k2 = {lens.k2:.6f}",
        f"cam_from_world = [{rows}]  # mm; camera x right, y down, z forward",
        f"lens_height_mm = {lens.place_mm[2]:.1f}",
        f"coupling_centre_px = {_pair(photo.hidden_px)}",
    ]


def shrunk_lens(lens: Lens, factor: float) -> Lens:
    """The lens of a picture that was reduced: pixel centres stay at whole numbers."""
    return replace(
        lens,
        width_px=int(np.rint(lens.width_px * factor)),
        height_px=int(np.rint(lens.height_px * factor)),
        focal_px=lens.focal_px * factor,
        cx_px=(lens.cx_px + 0.5) * factor - 0.5,
        cy_px=(lens.cy_px + 0.5) * factor - 0.5,
    )
