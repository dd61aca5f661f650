"""Rigs of a batch: photographs that belong together, and what was said of them."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from pathlib import Path

from calib.outcome.errors import InputError
from calib.outcome.files import is_file, is_folder
from calib.outcome.plain_text import plain
from photomeasure.asked.tape_said import TapeClass, TapeTo
from photomeasure.batch.names import as_file_name

PHOTO_SUFFIXES = frozenset({".jpg", ".jpeg", ".heic", ".heif", ".png", ".tif", ".tiff", ".webp", ".avif"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What a person said of a rig, as of `measure`; None: not said.

    rule: name or path; decision: as it is typed; camera, bay: paths of files.
    """

    coupling: str | None = None
    rule: str | None = None
    decision: str | None = None
    camera: Path | None = None
    bay: Path | None = None
    ball_diameter_mm: float | None = None
    pick_u_px: float | None = None
    bar_x_mm: float | None = None
    bar_y_mm: float | None = None
    coupled: bool | None = None
    laden: bool | None = None
    level_ground: bool | None = None
    level_control: bool | None = None
    ball_load_kg: float | None = None
    stand_mass_kg: float | None = None
    stand_drop_mm: float | None = None
    load_drop_mm: float | None = None
    level_within_mm_per_m: float | None = None
    tape_mm: float | None = None
    tape_class: TapeClass | None = None
    tape_to: TapeTo | None = None
    tape_flat_mm: float | None = None
    case: str | None = None
    by: str | None = None
    place: str | None = None
    note: str | None = None
    more: tuple[tuple[str, str], ...] | None = None  # further columns, carried through

    def over(self, common: Settings) -> Settings:
        """These, and where nothing was said what is common to all rigs."""
        said = {f.name: getattr(self, f.name) for f in fields(self) if getattr(self, f.name) is not None}
        return replace(common, **said)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """One rig. centres_px: a picked centre a photograph, None where none was picked. where: for errors."""

    name: str
    photos: tuple[Path, ...]
    centres_px: tuple[tuple[float, float] | None, ...]
    settings: Settings
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouping:
    """rigs, and what was left aside, in words."""

    rigs: tuple[Rig, ...]
    how: str
    aside: tuple[str, ...] = ()


def is_photo(path: Path) -> bool:
    return is_file(path) and path.suffix.lower() in PHOTO_SUFFIXES and not path.name.startswith(".")


def rigs_in(folder: Path, out: Path | None = None) -> Grouping:
    """Each sub-folder with photographs is one rig, each single photograph in the folder is one rig.

    out: where records and pictures go; where that lies in the folder it is no rig. Raises InputError for a folder without
    photographs, and for two rigs of one name.
    """
    entries = _entries(folder)
    if entries is None:
        raise InputError(
            f"The folder {folder} cannot be looked into.",
            expected="a folder of photographs that may be read",
            remedy="change its permissions, or name another",
        )
    rigs: list[Rig] = []
    aside: list[str] = []
    shut: list[str] = []
    for entry in entries:
        if entry.name.startswith(".") or (out is not None and entry.resolve() == out.resolve()):
            continue
        inside = _entries(entry) if is_folder(entry) else [entry]
        photos = list(filter(is_photo, inside or ()))
        if inside is None:
            shut.append(entry.name)
        elif photos:
            name = as_file_name(entry.name if is_folder(entry) else entry.stem)
            rigs.append(Rig(name=name, photos=tuple(photos), centres_px=(), settings=Settings(), where=str(entry)))
        else:
            aside.append(entry.name)
    if not rigs:
        raise InputError(
            f"There is no photograph in {folder}.",
            expected="photographs (one rig each), or folders of photographs (one rig a folder)",
            remedy="check the path; " + ", ".join(sorted(PHOTO_SUFFIXES)) + " are taken for photographs",
        )
    refuse_same_names(rigs)
    return Grouping(
        rigs=tuple(rigs),
        how="Each folder is one rig with all its photographs, each single photograph is one rig.",
        aside=(
            *((_left_aside(aside),) if aside else ()),
            *(f"The folder {plain(name)} may not be looked into: its photographs are not measured." for name in shut),
        ),
    )


def _entries(folder: Path) -> list[Path] | None:
    """What is in a folder, by name; None where it may not be read."""
    try:
        return sorted(folder.iterdir())
    except OSError:
        return None


def _left_aside(names: list[str]) -> str:
    more = f" and {len(names) - 5} more" if len(names) > 5 else ""
    return f"Left aside, as no photographs: {', '.join(names[:5])}{more}."


def refuse_same_names(rigs: list[Rig]) -> None:
    """Records are named after rigs, on some machines without regard to capitals."""
    seen: dict[str, Rig] = {}
    for rig in rigs:
        other = seen.setdefault(rig.name.casefold(), rig)
        if other is not rig:
            raise InputError(
                f"Two rigs would be called {rig.name!r}: {other.where} and {rig.where}.",
                expected="a name of its own for every rig",
                remedy="rename one, or put photographs of one rig into one folder",
            )
