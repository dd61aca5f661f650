"""From rigs to tasks, checked before any time is spent: rules and cameras that are named are there and can be read.

Nothing here loads what measuring needs: the processes that measure load it, side by side.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from calib.errors import InputError
from photomeasure.batch.rigs import Rig, Settings
from photomeasure.rules.load import default_rule, load_rule
from photomeasure.rules.model import Rule

if TYPE_CHECKING:
    from calib.profile import Profile


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One rig to measure, all that was said of it, and where its record goes."""

    rig: str
    photos: tuple[Path, ...]
    centres_px: tuple[tuple[float, float] | None, ...]
    said: Settings
    record_file: Path

    @property
    def coupling(self) -> str:
        return self.said.coupling or "ball-50"

    @property
    def photos_text(self) -> str:
        return " | ".join(str(path) for path in self.photos)


def tasks_of(rigs: tuple[Rig, ...], common: Settings, out: Path) -> list[Task]:
    """One task a rig, its record named after it in `out`. Raises InputError that says where the rig stands."""
    return [_task(rig, rig.settings.over(common), out) for rig in rigs]


def _task(rig: Rig, said: Settings, out: Path) -> Task:
    task = Task(
        rig=rig.name,
        photos=rig.photos,
        centres_px=rig.centres_px,
        said=said,
        record_file=out / f"{rig.name}.json",
    )
    try:
        rule_of(said.rule, task.coupling)
        profile_of(said.camera)
    except InputError as error:
        raise InputError(f"{rig.where}: {error.what}", expected=error.expected, remedy=error.remedy) from error
    return task


@cache
def rule_of(name: str | None, coupling: str) -> Rule:
    """A rule by name or path, or the coupling's own."""
    return load_rule(name) if name is not None else default_rule(coupling)


@cache
def profile_of(path: Path | None) -> Profile | None:
    """A camera profile from its file."""
    if path is None:
        return None
    from calib.profile import Profile

    return Profile.load(path)
