"""What a person said of one rig, whatever the door."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from pathlib import Path

from photomeasure.asked.sag import Sag
from photomeasure.asked.state import Coupling
from photomeasure.asked.tape_said import USUAL_CLASS, TapeClass, TapeSaid, TapeTo

USUAL_COUPLING: Coupling = "ball-50"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """One field for each row of the table of questions (`fields.QUESTIONS`) that is said of a whole rig; None: not said.

    rule: name or path; decision: as it is typed; camera, bay, from_record: paths of files; more: further columns of a list;
    by_default: names of those whose answer is a person's file of defaults.
    """

    coupling: Coupling | None = None
    coupled: bool | None = None
    laden: bool | None = None
    level_ground: bool | None = None
    level_control: bool | None = None
    level_within_mm_per_m: float | None = None
    ball_load_kg: float | None = None
    stand_mass_kg: float | None = None
    stand_drop_mm: float | None = None
    load_drop_mm: float | None = None
    bar_x_mm: float | None = None
    bar_y_mm: float | None = None
    pick_u_px: float | None = None
    ball_diameter_mm: float | None = None
    tag_by_gauge: bool | None = None
    from_record: Path | None = None
    sheet_untouched: bool | None = None
    rule: str | None = None
    decision: str | None = None
    tape_mm: float | None = None
    tape_to: TapeTo | None = None
    tape_flat_mm: float | None = None
    tape_class: TapeClass | None = None
    camera: Path | None = None
    bay: Path | None = None
    rig: str | None = None
    case: str | None = None
    by: str | None = None
    place: str | None = None
    note: str | None = None
    more: tuple[tuple[str, str], ...] | None = None
    by_default: frozenset[str] | None = None

    def over(self, common: Stated) -> Stated:
        """These, and where nothing was said what is common to all rigs."""
        said = {f.name: getattr(self, f.name) for f in fields(self) if getattr(self, f.name) is not None}
        left = (common.by_default or frozenset()) - said.keys() | (self.by_default or frozenset())
        return replace(common, **{**said, "by_default": left or None})

    @property
    def coupling_taken(self) -> Coupling:
        return self.coupling or USUAL_COUPLING

    @property
    def sag(self) -> Sag:
        """What was said of how far the ball sinks."""
        return Sag(
            ball_load_kg=self.ball_load_kg,
            stand_mass_kg=self.stand_mass_kg,
            stand_drop_mm=self.stand_drop_mm,
            load_drop_mm=self.load_drop_mm,
        )

    @property
    def tape(self) -> TapeSaid | None:
        """A tape's reading, as far as it was said."""
        if self.tape_mm is None:
            return None
        return TapeSaid(
            reading_mm=self.tape_mm,
            tape_class=self.tape_class or USUAL_CLASS,
            to=self.tape_to or "middle",
            flat_mm=self.tape_flat_mm,
        )
