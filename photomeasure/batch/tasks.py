"""From rigs to tasks, checked before any time is spent: rules and cameras that are named are there and can be read.

Nothing here loads what measuring needs: the processes that measure load it, side by side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from calib.outcome.errors import InputError
from calib.outcome.plain_text import plain_path
from calib.words.said import joined, said
from photomeasure.asked.requested import bay_of, check_said, profile_of, rule_of
from photomeasure.asked.stated import Stated
from photomeasure.batch.addresses import is_address
from photomeasure.batch.rigs import Rig


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is wanted of every rig alike: the check by Monte Carlo, annotated pictures."""

    monte_carlo: bool = False
    pictures: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One rig to measure, all that was said of it, and where its record goes. places: of photographs that are read where it is
    measured, at an address or a path of that machine; None for a file of this one."""

    rig: str
    photos: tuple[Path, ...]
    centres_px: tuple[tuple[float, float] | None, ...]
    said: Stated
    record_file: Path
    wanted: Wanted
    places: tuple[str | None, ...] = ()

    @property
    def elsewhere(self) -> dict[Path, str]:
        """Photographs that are read where the rig is measured, and where they lie."""
        return {path: place for path, place in zip(self.photos, self.places, strict=False) if place is not None}

    @property
    def photos_text(self) -> str:
        addresses = {path: place for path, place in self.elsewhere.items() if is_address(place)}
        return " | ".join(plain_path(addresses.get(path, path)) for path in self.photos)

    def shared(self) -> Task:
        """The same, with every photograph read where the rig is measured."""
        places = self.places or (None,) * len(self.photos)
        given = zip(self.photos, places, strict=True)
        return replace(self, places=tuple(place or str(path.absolute()) for path, place in given))

    def picture_files(self, count: int) -> list[Path]:
        """Where `count` annotated pictures go: beside the record, named after the rig as photographs of two rigs may
        have one name."""
        stem = f"{self.rig}-height"
        names = [stem] if len(self.photos) == 1 else [f"{stem}-{number}" for number in range(1, count + 1)]
        return [self.record_file.with_name(f"{name}.jpg") for name in names[:count]]

    def files(self) -> list[tuple[Path, str]]:
        """Everything that may be written for this rig, and of what kind it is."""
        drawn = self.picture_files(len(self.photos)) if self.wanted.pictures else []
        return [(self.record_file, "record"), *((path, "picture") for path in drawn)]

    def older_pictures(self) -> list[Path]:
        """Annotated pictures that were there before this record was: they show an earlier figure."""
        there = [path for path in self.picture_files(len(self.photos)) if path.is_file()]
        if not there or not self.record_file.is_file():
            return []
        written = self.record_file.stat().st_mtime_ns
        return [path for path in there if path.stat().st_mtime_ns < written]


def tasks_of(rigs: tuple[Rig, ...], common: Stated, out: Path, wanted: Wanted | None = None) -> list[Task]:
    """One task a rig, its record named after it in `out`. Raises InputError that says where the rig stands."""
    return [_task(rig, rig.said.over(common), out, wanted or Wanted()) for rig in rigs]


def _task(rig: Rig, stated: Stated, out: Path, wanted: Wanted) -> Task:
    task = Task(
        rig=rig.name,
        photos=rig.photos,
        centres_px=rig.centres_px,
        said=stated,
        record_file=out / f"{rig.name}.json",
        wanted=wanted,
        places=rig.addresses,
    )
    try:
        rule_of(stated.rule, stated.coupling_taken)
        profile_of(stated.camera)
        bay_of(stated.bay)
        check_said(
            stated,
            said("level within (--level-within, level_within_mm_per_m)"),
            said("ground not known (--unknown-ground, level_ground no)"),
        )
    except InputError as error:
        raise InputError(joined([rig.where, error.what], ": "), expected=error.expected, remedy=error.remedy) from error
    return task
