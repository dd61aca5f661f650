"""The ground: its texture, how even it is between feet and coupling or along a trailer, and how that is known, as priors.

Confidence labels as in `scene.priors`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calib.words.said import said
from photomeasure.scene.priors import DEG
from photomeasure.scene.scene import Prior

# Ground: its texture (a tape's end and a foot line rest on other grains than the height is meant from), and how far it is
# from plane between the foot line and the coupling. Even slope does nothing: nothing here is measured against gravity.
# Said to be hard and flat: smooth concrete to fine asphalt, 3 mm under a 2 m straight edge; else coarse asphalt, packed
# gravel, 10 mm under 2 m (usual classes of floors and yards, from memory).
FLAT_TEXTURE_MM, FLAT_UNEVENNESS = 0.5, 0.003 / 2
UNKNOWN_TEXTURE_MM, UNKNOWN_UNEVENNESS = 1.0, 0.010 / 2
BAY_TEXTURE_MM = 0.2  # a floor (judgement)
LEAST_UNEVEN = 1e-6  # mm per mm: a level that read nothing at all
LEAST_RISE_MM = 1e-3  # a prior needs a width: nothing that anybody would see
_BETWEEN = said("at every place between")


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """How even the ground is. uneven: mm per mm; level_within_mm_per_m: what a level read, where that is better than what is usual."""

    words: str
    texture_mm: float
    uneven: float
    level_within_mm_per_m: float | None = None

    def source(self, over_mm: float | None = None, where: str = _BETWEEN) -> str:
        """over_mm: of what distance; where: a level was laid."""
        if self.level_within_mm_per_m is not None:
            values = {"where": where, "slope": self.level_within_mm_per_m}
            if over_mm is None:
                return said("a level read {where}: within {slope:g} mm per metre", **values)
            return said(
                "a level read {where}: within {slope:g} mm per metre over {over:.0f} mm", **values, over=over_mm
            )
        values = {"ground": self.words, "mm": 2000 * self.uneven}
        if over_mm is None:
            return said("{ground}: {mm:g} mm under a straight edge of 2 m (from memory)", **values)
        return said(
            "{ground}: {mm:g} mm under a straight edge of 2 m, over {over:.0f} mm (from memory)", **values, over=over_mm
        )


def evenness(*, flat: bool, level_within_mm_per_m: float | None) -> Evenness:
    """flat, level_within_mm_per_m: as of `ground_priors`."""
    usual = (
        Evenness(words=said("hard, flat ground"), texture_mm=FLAT_TEXTURE_MM, uneven=FLAT_UNEVENNESS)
        if flat
        else Evenness(
            words=said("ground not said to be hard and flat"), texture_mm=UNKNOWN_TEXTURE_MM, uneven=UNKNOWN_UNEVENNESS
        )
    )
    read = np.inf if level_within_mm_per_m is None else level_within_mm_per_m / 1000.0 * np.sqrt(2.0 / 3.0)
    if read >= usual.uneven:
        return usual
    return replace(usual, uneven=max(float(read), LEAST_UNEVEN), level_within_mm_per_m=level_within_mm_per_m)


def ground_priors(distance_mm: float, *, flat: bool, level_within_mm_per_m: float | None = None) -> list[Prior]:
    """Ground under the coupling against the plane of the ground under the foot line, `distance_mm` away.

    flat: said to be hard and flat. level_within_mm_per_m: what a level showed at every place between: slopes that are all
    within so much of level differ by no more than twice that (a triangle), which may be better than what is usual.
    """
    ground = evenness(flat=flat, level_within_mm_per_m=level_within_mm_per_m)
    return [
        _rise(
            "ground",
            "ground.rise",
            ground.texture_mm,
            said("{ground}: texture {texture_mm:g} mm (judgement)", ground=ground.words, texture_mm=ground.texture_mm),
        ),
        _rise(
            "ground evenness",
            "ground.slope_rise",
            max(ground.uneven * distance_mm, LEAST_RISE_MM),
            ground.source(distance_mm),
        ),
    ]


def bay_ground_prior(survey_u_mm: float) -> Prior:
    """In a bay the ground was surveyed with the markers: its texture, and the survey."""
    return _rise(
        "ground", "ground.rise", float(np.hypot(BAY_TEXTURE_MM, survey_u_mm)), said("surveyed ground of the bay")
    )


SIDE_TURN_RAD = 5.0 * DEG  # a sheet set up along a trailer by eye (judgement)
SIDE_DEPTH_MM = 600.0  # tyres stand nearer to the viewer than a sheet under the coupling, or in its plane (judgement)
RAIL_BACK_MM, RAIL_BACK_U_MM = 100.0, 150.0  # the rail is further back than the tyres' outer sides (judgement)


def side_priors(*, flat: bool, level_within_mm_per_m: float | None = None) -> list[Prior]:
    """What is known of a trailer's side before the picture is looked at: how it stands to the sheet, and its ground.

    flat, level_within_mm_per_m: as of `ground_priors`; the ground line along the trailer against the sheet's own ground.
    """
    ground = evenness(flat=flat, level_within_mm_per_m=level_within_mm_per_m)
    source = ground.source(where=said("along the trailer"))
    rise_mm = float(np.hypot(ground.texture_mm, 1000.0 * ground.uneven))
    turn = said("sheet set up along the trailer by eye, 5 degrees (judgement)")
    side = said("in the sheet's plane or a parallel one up to a trailer's half width nearer (judgement)")
    back = said("rail behind the tyres' outer sides (judgement)")
    return [
        Prior(quantity="trailer's turn", coefficients={"side.turn": 1.0}, mean=0.0, u=SIDE_TURN_RAD, unit="rad", source=turn),
        Prior(quantity="trailer's distance", coefficients={"side.depth": 1.0}, mean=0.0, u=SIDE_DEPTH_MM, unit="mm", source=side),
        Prior(quantity="rail's distance", coefficients={"side.step": 1.0}, mean=RAIL_BACK_MM, u=RAIL_BACK_U_MM, unit="mm", source=back),
        Prior(quantity="ground", coefficients={"side.rise": 1.0}, mean=0.0, u=rise_mm, unit="mm", source=source),
        Prior(quantity="ground evenness", coefficients={"side.slope": 1.0}, mean=0.0, u=ground.uneven, unit="rad", source=source),
    ]  # fmt: skip


def _rise(quantity: str, parameter: str, u_mm: float, source: str) -> Prior:
    return Prior(quantity=quantity, coefficients={parameter: 1.0}, mean=0.0, u=u_mm, unit="mm", source=source)
