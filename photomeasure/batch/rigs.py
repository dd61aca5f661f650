"""Rigs of a batch: photographs that belong together, and what was said of them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from calib.outcome.errors import InputError
from calib.outcome.files import is_file, is_folder
from calib.outcome.plain_text import plain
from calib.words.said import said
from photomeasure.asked.stated import Stated
from photomeasure.batch.names import as_file_name

PHOTO_SUFFIXES = frozenset({".jpg", ".jpeg", ".heic", ".heif", ".png", ".tif", ".tiff", ".webp", ".avif"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """One rig. centres_px: a picked centre a photograph, None where none was picked. where: for errors.

    addresses: of each photograph, where it is no file of this machine; its path only stands for it then.
    """

    name: str
    photos: tuple[Path, ...]
    centres_px: tuple[tuple[float, float] | None, ...]
    said: Stated
    where: str
    addresses: tuple[str | None, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouping:
    """rigs, and what was left aside, in words."""

    rigs: tuple[Rig, ...]
    how: str
    aside: tuple[str, ...] = ()


def is_photo(path: Path) -> bool:
    """Whether a file is taken for a photograph: by its ending, hidden files apart."""
    return is_file(path) and path.suffix.lower() in PHOTO_SUFFIXES and not path.name.startswith(".")


def rigs_in(folder: Path, out: Path | None = None) -> Grouping:
    """Each sub-folder with photographs is one rig, each single photograph in the folder is one rig.

    out: where records and pictures go; where that lies in the folder it is no rig. Raises InputError for a folder without
    photographs, and for two rigs of one name.
    """
    entries = _entries(folder)
    if entries is None:
        raise InputError(
            said("The folder {folder} cannot be looked into.", folder=folder),
            expected=said("a folder of photographs that may be read"),
            remedy=said("change its permissions, or name another"),
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
            rigs.append(Rig(name=name, photos=tuple(photos), centres_px=(), said=Stated(), where=str(entry)))
        else:
            aside.append(entry.name)
    if not rigs:
        raise InputError(
            said("There is no photograph in {folder}.", folder=folder),
            expected=said("photographs (one rig each), or folders of photographs (one rig a folder)"),
            remedy=said("check the path; {listed} are taken for photographs", listed=", ".join(sorted(PHOTO_SUFFIXES))),
        )
    refuse_same_names(rigs)
    return Grouping(
        rigs=tuple(rigs),
        how=said("Each folder is one rig with all its photographs, each single photograph is one rig."),
        aside=(
            *((_left_aside(aside),) if aside else ()),
            *(
                said("The folder {name} may not be looked into: its photographs are not measured.", name=plain(name))
                for name in shut
            ),
        ),
    )


def _entries(folder: Path) -> list[Path] | None:
    """What is in a folder, by name; None where it may not be read."""
    try:
        return sorted(folder.iterdir())
    except OSError:
        return None


def _left_aside(names: list[str]) -> str:
    listed = ", ".join(names[:5])
    if len(names) > 5:
        return said("Left aside, as no photographs: {listed} and {more} more.", listed=listed, more=len(names) - 5)
    return said("Left aside, as no photographs: {listed}.", listed=listed)


def refuse_same_names(rigs: list[Rig]) -> None:
    """Records are named after rigs, on some machines without regard to capitals."""
    seen: dict[str, Rig] = {}
    for rig in rigs:
        other = seen.setdefault(rig.name.casefold(), rig)
        if other is not rig:
            raise InputError(
                said(
                    "Two rigs would be called {name}: {where} and {here}.",
                    name=repr(rig.name),
                    where=other.where,
                    here=rig.where,
                ),
                expected=said("a name of its own for every rig"),
                remedy=said("rename one, or put photographs of one rig into one folder"),
            )
