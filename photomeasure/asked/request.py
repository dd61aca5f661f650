"""What a person asks for: photographs of one rig, and all that was said of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from photomeasure.asked.bars import Bars
from photomeasure.asked.carried import Carried
from photomeasure.asked.case import Particulars
from photomeasure.asked.facts import Unsaid
from photomeasure.asked.sag import Sag
from photomeasure.asked.state import State

if TYPE_CHECKING:
    from calib.profile.profile import Profile
    from photomeasure.asked.bay_file import Bay
    from photomeasure.rules.model import Decision, Rule

BALL_DIAMETER_MM = 50.0
PICK_SIGMA_PX = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a person asks for; frozen, and checked by `measure`, not here.

    photos: of one rig standing still, one or more. coupling: one of `asked.state.COUPLINGS`.
    centres_px: picked centres (x, y), one a photograph in order, None where none was picked; (0, 0) is the centre of the
    top-left pixel of the picture as a person sees it. pick_sigma_px: standard uncertainty of each coordinate, pixels.
    ball_diameter_mm: as stamped on the ball, mm. profile: of the camera; without, one that fits is looked for in
    profile_folder, else EXIF's focal length is taken. bay: surveyed markers in place of or beside the kit.
    decision: in place of the rule's own. sag: what tells how far the ball sinks from the photographed state to the one that counts.
    carried: where the centre was before it was hidden, by a bar tag, as a record tells. before_photos: how many of the
    photographs, the last ones, were taken before it was hidden; sheet_untouched: whether nobody moved the sheet or drove the
    rig between those and the others; None: not said. standing: those photographs show somebody on the bar instead.
    tag_by_gauge: whether the centre tag's height was carried over with the kit's gauge; None: not said, so by eye.
    unsaid: what holds a default because nobody said; what is ticked on the sheet may take its place.
    by_default: questions answered by a person's file of defaults, not for this rig: what is ticked or remembered goes before.
    level_within_mm_per_m: what a level showed at most, mm per metre, laid at every place from sheet to coupling, where
    somebody read one. case: whose rig it is.
    """

    photos: tuple[Path, ...]
    rule: Rule
    coupling: str = "ball-50"
    centres_px: tuple[tuple[float, float] | None, ...] = ()
    pick_sigma_px: float = PICK_SIGMA_PX
    ball_diameter_mm: float = BALL_DIAMETER_MM
    bars: Bars = Bars()
    state: State = State()
    decision: Decision | None = None
    level_within_mm_per_m: float | None = None
    profile: Profile | None = None
    profile_folder: Path | None = None
    bay: Bay | None = None
    case: Particulars = Particulars()
    sag: Sag = Sag()
    carried: Carried | None = None
    before_photos: int = 0
    sheet_untouched: bool | None = None
    standing: bool = False
    tag_by_gauge: bool | None = None
    unsaid: frozenset[Unsaid] = frozenset()
    by_default: frozenset[str] = frozenset()
