"""What a set of photographs says, as data: cameras, observations, priors. No formula of the solution lives here.

World frame: x right along the foot line, y away from the viewer, z up; the ground at the foot line is z = 0.
Lengths in millimetres, angles in radians, pixels as in `calib.camera.camera`. Every observation and every prior names the input
quantity it belongs to; the budget adds up by those names.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calib.kit.sheet import FIRST_BARS_MM
from photomeasure.asked.bars import Bars

Which = NDArray[np.bool_] | NDArray[np.int64]
LineName = Literal["ground", "rail"]
PlaneName = Literal["upright", "upright-in-bay", "second-upright", "ground", "tag", "bar-tag", "further-bar-tag"]
# "curvilinear trapezoid": limits that are themselves guesses (JCGM 101:2008 6.4.3); "exponential": never below mean - u
DistributionName = Literal["normal", "rectangular", "curvilinear trapezoid", "exponential"]

# Names of parameters that are there in every scene with a kit. All others are made by `model.layout`.
CENTRE = ("centre.x", "centre.y", "centre.z")
# How a bar tag lies in the world, and where the coupling's centre is in its frame (x right, y into it, z up).
BAR_TURNS = ("bar.turn", "bar.lean", "bar.roll")
OFFSET = ("offset.x", "offset.y", "offset.z")


# Where a second upright sheet stands: the middle of its foot line, how it is turned, and how high its foot is; how much higher the
# ground is there than the plane of the ground under the first one.
SECOND_PLACE = ("second.x", "second.y")
SECOND_STANCE = (*SECOND_PLACE, "second.yaw", "second.lean", "second.roll", "second.lift")
SECOND_PRINT = ("second_print.x", "second_print.y")
BETWEEN = "ground.between"

# What photographs from before have for themselves: the rig moved in between, and the sheet where it was stood up anew.
BEFORE = "before."
OF_THE_RIG = frozenset({"centre", "bar", "tag", "mark"})
OF_THE_SHEET = frozenset({"sheet", "ground", "flat", "rig", "stand", "second"})


def offset_of(tag: int | None) -> tuple[str, ...]:
    """Where the centre is from a bar tag, in the frame of the first one; None is the first."""
    return OFFSET if tag is None else tuple(f"offset{tag}.{axis}" for axis in "xyz")


def mount_of(tag: int) -> tuple[str, ...]:
    """How a further bar tag is turned against the first one."""
    return tuple(f"mount{tag}.{name}" for name in ("turn", "lean", "roll"))


def edge_of(photo: int) -> str:
    """The parameter of the common shift of a ball's edge in one photograph."""
    return f"ball.edge{photo}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraPrior:
    """What is known of one camera before the picture is looked at.

    mean:       (9,) intrinsics for pictures of `size_px` (width, height), see `calib.camera.camera.INTRINSICS`.
    basis:      (9, r); intrinsics = mean + basis q with q independent, standard normal.
    quantities: (r,) the input quantity that each column belongs to.
    source:     a sentence for the record.
    own:        columns that each photograph has for itself (a stabiliser moves the axis); the others all share.
    """

    mean: NDArray[np.float64]
    basis: NDArray[np.float64]
    quantities: tuple[str, ...]
    size_px: tuple[int, int]
    kind: Literal["profile", "exif", "assumed"]
    source: str
    own: tuple[int, ...] = ()

    def loosened(self, quantities: Collection[str], factor: float) -> CameraPrior:
        """The same with the standard uncertainties of some input quantities `factor` times as large."""
        scale = np.array([factor if quantity in quantities else 1.0 for quantity in self.quantities])
        return replace(self, basis=self.basis * scale)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """A linear statement about parameters: sum(coefficient x parameter) = mean, with standard uncertainty u."""

    quantity: str
    coefficients: Mapping[str, float]
    mean: float
    u: float
    unit: str
    source: str
    distribution: DistributionName = "normal"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneView:
    """Points of a printed plane seen in one photograph. local_mm (N, 2) as printed; px (N, 2); sigma_px (N,).

    before: in a photograph from before. tag: of a bar tag, its id; None of the first one, once a scene is assembled.
    """

    photo: int
    plane: PlaneName
    local_mm: NDArray[np.float64]
    px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    quantity: str = "corner noise"
    before: bool = False
    tag: int | None = None

    def only(self, which: Which) -> PlaneView:
        """Some of its points. which: (N,) whether each, or their numbers."""
        return replace(self, local_mm=self.local_mm[which], px=self.px[which], sigma_px=self.sigma_px[which])


@dataclass(frozen=True, slots=True, kw_only=True)
class PointView:
    """The coupling's centre seen as a point: px (2,), the same standard uncertainty on both axes."""

    photo: int
    px: NDArray[np.float64]
    sigma_px: float
    quantity: str
    before: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineView:
    """Points on the outline of the ball: px (N, 2); sigma_px (N,) across the outline, independent part only."""

    photo: int
    px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    quantity: str = "ball outline"
    before: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LineView:
    """Points of a line along the trailer's side seen in one photograph: px (N, 2); sigma_px (N,).

    ground: on the ground line, such as two tyre contacts; rail: on the chassis rail or floor line. Which points of the line
    they are is not known: each has its place along it as an unknown of its own.
    """

    photo: int
    line: LineName
    px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    quantity: str

    @property
    def along(self) -> tuple[str, ...]:
        """(N,) parameters: where each point lies along its line, mm to the right of the middle of the foot line."""
        return tuple(f"{self.line}{self.photo}.{number}" for number in range(len(self.px)))


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkerView:
    """Surveyed points seen in one photograph: names (N,), world_mm (N, 3), px (N, 2), sigma_px (N,).

    u_mm is the standard uncertainty of each surveyed coordinate. Points that several photographs see share their error,
    which is an unknown; what it does to a point that one photograph sees is survey_px (N,), nothing where it is an unknown.
    """

    photo: int
    names: tuple[str, ...]
    world_mm: NDArray[np.float64]
    px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]
    u_mm: float
    survey_px: NDArray[np.float64] | None = None
    quantity: str = "marker corner noise"

    def only(self, which: Which) -> MarkerView:
        """Some of its points. which: (N,) whether each, or their numbers."""
        return replace(
            self,
            names=tuple(self.names[i] for i in np.arange(len(self.names))[which]),
            world_mm=self.world_mm[which],
            px=self.px[which],
            sigma_px=self.sigma_px[which],
            survey_px=None if self.survey_px is None else self.survey_px[which],
        )

    @property
    def total_px(self) -> NDArray[np.float64]:
        """(N,) standard uncertainty of the difference between seen and expected: the picture's and the survey's."""
        if self.survey_px is None:
            return self.sigma_px
        total: NDArray[np.float64] = np.hypot(self.sigma_px, self.survey_px)
        return total

    @property
    def survey_share(self) -> NDArray[np.float64]:
        """(N,) part of the square of `total_px` that is the survey's."""
        if self.survey_px is None:
            return np.zeros(len(self.names))
        return np.asarray((self.survey_px / self.total_px) ** 2, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One rig standing still, seen in one or more photographs.

    camera_of: which of `cameras` took each photograph. The height is `measurand` applied to the parameters
    (coefficients by name): the centre's z less the rise of the ground under it, plus the placement of a tag.
    bars_mm: length of the sheet's check bars along x and y as drawn; second_bars: what was measured of a second
    print's. paper_vouches: the paper is seen to be as wide as the bars make it. own: first words of the parameters that photographs
    from before have for themselves; earlier: the measurand of before, where there are such photographs.
    """

    cameras: tuple[CameraPrior, ...]
    camera_of: tuple[int, ...]
    planes: tuple[PlaneView, ...] = ()
    points: tuple[PointView, ...] = ()
    outlines: tuple[OutlineView, ...] = ()
    lines: tuple[LineView, ...] = ()
    markers: tuple[MarkerView, ...] = ()
    priors: tuple[Prior, ...] = ()
    measurand: Mapping[str, float] = field(default_factory=lambda: {"centre.z": 1.0, "ground.rise": -1.0})
    bars_mm: tuple[float, float] = FIRST_BARS_MM
    second_bars: Bars = Bars()
    paper_vouches: bool = False
    own: frozenset[str] = frozenset()
    earlier: Mapping[str, float] | None = None

    def names(self, names: Sequence[str], *, before: bool) -> tuple[str, ...]:
        """The parameters' names as photographs of now have them, or as those from before do."""
        if not before:
            return tuple(names)
        return tuple(f"{BEFORE}{name}" if name.split(".", 1)[0] in self.own else name for name in names)

    @property
    def centre_sights(self) -> tuple[tuple[int, bool], ...]:
        """Photograph, and whether it is from before, of each mark and each outline of the centre."""
        of_points = ((view.photo, view.before) for view in self.points)
        return (*of_points, *((view.photo, view.before) for view in self.outlines))

    @property
    def n_photos(self) -> int:
        """How many photographs it is of, those from before too."""
        return len(self.camera_of)

    @property
    def shows_sheets(self) -> bool:
        """Whether a sheet of the kit is seen; else there are a bay's markers only."""
        return any(view.plane not in ("tag", "bar-tag", "further-bar-tag") for view in self.planes)
