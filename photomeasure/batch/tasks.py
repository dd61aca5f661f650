"""From a rig to the task of measuring it: rules and cameras loaded once, wrong ones named with the rig they belong to."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from calib.errors import InputError
from photomeasure.batch.rigs import Rig, Settings
from photomeasure.batch.work import Task
from photomeasure.camera_for import profile_folder
from photomeasure.pipeline import Request
from photomeasure.priors import BALL_DIAMETER_MM, Bars
from photomeasure.rules.load import default_rule, load_rule
from photomeasure.rules.model import Rule
from photomeasure.state import State

if TYPE_CHECKING:
    from calib.profile import Profile


def tasks_of(rigs: tuple[Rig, ...], common: Settings, out: Path) -> list[Task]:
    """One task a rig, its record named after it in `out`. Raises InputError that says where the rig stands."""
    return [_task(rig, rig.settings.over(common), out) for rig in rigs]


def _task(rig: Rig, said: Settings, out: Path) -> Task:
    coupling = said.coupling or "ball-50"
    try:
        rule = _rule(said.rule, coupling)
        profile = _profile(said.camera)
    except InputError as error:
        raise InputError(f"{rig.where}: {error.what}", expected=error.expected, remedy=error.remedy) from error
    request = Request(
        photos=rig.photos,
        rule=rule,
        coupling=coupling,
        centres_px=rig.centres_px,
        ball_diameter_mm=BALL_DIAMETER_MM if said.ball_diameter_mm is None else said.ball_diameter_mm,
        bars=Bars(x_mm=said.bar_x_mm, y_mm=said.bar_y_mm),
        state=State(coupled=said.coupled, laden=said.laden, level_ground=said.level_ground),
        profile=profile,
        profile_folder=profile_folder(),
    )
    return Task(rig=rig.name, request=request, tape_mm=said.tape_mm, record_file=out / f"{rig.name}.json")


@cache
def _rule(name: str | None, coupling: str) -> Rule:
    return load_rule(name) if name is not None else default_rule(coupling)


@cache
def _profile(path: Path | None) -> Profile | None:
    if path is None:
        return None
    from calib.profile import Profile

    return Profile.load(path)
