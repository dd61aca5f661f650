"""The request that what was said of a rig makes: the same at every door."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from photomeasure.asked.bars import Bars
from photomeasure.asked.case import Particulars
from photomeasure.asked.facts import unsaid
from photomeasure.asked.limits import check_level
from photomeasure.asked.request import BALL_DIAMETER_MM, PICK_SIGMA_PX, Request
from photomeasure.asked.sag import check_sag
from photomeasure.asked.state import State
from photomeasure.asked.stated import Stated
from photomeasure.rules.decision import parse_decision
from photomeasure.rules.load import default_rule, load_rule
from photomeasure.rules.model import Rule

if TYPE_CHECKING:
    from calib.profile.profile import Profile
    from photomeasure.asked.bay_file import Bay
    from photomeasure.asked.carried import Carried


def request_of(
    said: Stated,
    photos: tuple[Path, ...],
    *,
    centres_px: tuple[tuple[float, float] | None, ...] = (),
    profile_folder: Path | None = None,
    carried: Carried | None = None,
    before_photos: int = 0,
    standing: bool = False,
) -> Request:
    """The request that these answers make. Raises InputError where a rule, camera or bay that is named cannot be had."""
    return Request(
        photos=photos,
        rule=rule_of(said.rule, said.coupling_taken),
        coupling=said.coupling_taken,
        centres_px=centres_px,
        pick_sigma_px=PICK_SIGMA_PX if said.pick_u_px is None else said.pick_u_px,
        ball_diameter_mm=BALL_DIAMETER_MM if said.ball_diameter_mm is None else said.ball_diameter_mm,
        bars=Bars(x_mm=said.bar_x_mm, y_mm=said.bar_y_mm),
        state=State(
            coupled=said.coupled,
            laden=said.laden,
            level_ground=said.level_ground,
            level_control=said.level_control,
        ),
        sag=said.sag,
        decision=None if said.decision is None else parse_decision(said.decision),
        level_within_mm_per_m=said.level_within_mm_per_m,
        profile=profile_of(said.camera),
        profile_folder=profile_folder,
        bay=bay_of(said.bay),
        carried=carried,
        before_photos=before_photos,
        standing=standing,
        sheet_untouched=True if standing and said.sheet_untouched is None else said.sheet_untouched,
        tag_by_gauge=said.tag_by_gauge,
        unsaid=unsaid(said.coupling, said.ball_diameter_mm, said.rule),
        by_default=said.by_default or frozenset(),
        case=Particulars(
            rig=said.rig, case=said.case, by=said.by, place=said.place, note=said.note, more=said.more or ()
        ),
    )


def rule_of(name: str | None, coupling: str) -> Rule:
    """A rule by name or path, or the coupling's own."""
    return load_rule(name) if name is not None else default_rule(coupling)


def profile_of(path: Path | None) -> Profile | None:
    """A camera profile from its file."""
    if path is None:
        return None
    from calib.profile.load import load_profile

    return load_profile(path)


def bay_of(path: Path | None) -> Bay | None:
    """A measuring bay from its file."""
    if path is None:
        return None
    from photomeasure.asked.bay_file import load_bay

    return load_bay(path)


def check_ground(said: Stated, level_name: str, unknown_ground: str) -> None:
    """A level's reading against what was said of the ground; the names as the person knows them. Raises InputError."""
    check_level(
        level_name, said.level_within_mm_per_m, unknown_ground, said.level_ground, in_a_bay=said.bay is not None
    )


def check_said(said: Stated, level_name: str, unknown_ground: str, *, standing: bool = False) -> None:
    """Answers that cannot hold together: InputError. level_name, unknown_ground: as the person knows those two; standing:
    photographs tell the drop of the stand test."""
    check_ground(said, level_name, unknown_ground)
    check_sag(said.sag if not standing else replace(said.sag, stand_mass_kg=None))
