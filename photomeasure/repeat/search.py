"""The photographs that a record names: in a named folder, in the folder of work, beside the record or nearby; told by their digests."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Literal

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.record.measure_and_record import file_digest
from photomeasure.record.schema import PhotoPart

_MOST_FOLDERS = 2000  # looked into for a photograph that is not at hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """One photograph of a record. path: where it is, or where something else lies under its name; None: nowhere."""

    file: str
    sha256: str | None
    state: Literal["found", "changed", "missing"]
    path: Path | None
    now_sha256: str | None = None


class PhotoFolder:
    """Folders with folders in them, in which photographs are looked up by name, and failing that by digest."""

    def __init__(self, *folders: Path) -> None:
        self.folders = folders

    @cached_property
    def _files(self) -> tuple[Path, ...]:
        return tuple(
            path for folder in self.folders for path in sorted(file for file in folder.rglob("*") if file.is_file())
        )

    @cached_property
    def _by_digest(self) -> dict[str | None, Path]:
        return {file_digest(path): path for path in reversed(self._files)}

    def named(self, name: str) -> Iterator[Path]:
        return (path for path in self._files if path.name == name)

    def with_digest(self, sha256: str) -> Path | None:
        """Whatever it is called now; reads every file once."""
        return self._by_digest.get(sha256)


def photo_folder(folders: Sequence[Path]) -> PhotoFolder | None:
    """The folders that somebody named for photographs; None where none was. InputError for one that is none."""
    for folder in folders:
        if not folder.is_dir():
            raise InputError(
                said("{folder} is no folder.", folder=folder),
                expected=said("a folder with photographs"),
                remedy=said("check the path"),
            )
    return PhotoFolder(*folders) if folders else None


def seek(photo: PhotoPart, record: Path, folder: PhotoFolder | None) -> Sought:
    """Look in the folder (if one is given), then in the folder of work, beside the record, and below both.

    A file of the right name but another digest counts as changed only where no true one is found.
    """
    changed: Sought | None = None
    for path in _places(photo, record, folder):
        digest = file_digest(path)
        if digest is not None and digest == photo.sha256:
            return Sought(file=photo.file, sha256=photo.sha256, state="found", path=path)
        if digest is not None and changed is None:
            changed = Sought(file=photo.file, sha256=photo.sha256, state="changed", path=path, now_sha256=digest)
    renamed = folder.with_digest(photo.sha256) if folder is not None and photo.sha256 is not None else None
    if renamed is not None:
        return Sought(file=photo.file, sha256=photo.sha256, state="found", path=renamed)
    nearby = _nearby(Path(photo.file).name, record) if photo.sha256 is not None else ()
    for path in nearby:  # another photograph of that name tells nothing there
        if file_digest(path) == photo.sha256:
            return Sought(file=photo.file, sha256=photo.sha256, state="found", path=path)
    return changed or Sought(file=photo.file, sha256=photo.sha256, state="missing", path=None)


def _places(photo: PhotoPart, record: Path, folder: PhotoFolder | None) -> Iterator[Path]:
    stated = Path(photo.file)
    if folder is not None:
        yield from folder.named(stated.name)
    yield stated  # in the folder of work; records of earlier versions state a path
    yield record.parent / stated  # an absolute path stays what it is
    yield record.parent / stated.name


def _nearby(name: str, record: Path) -> Iterator[Path]:
    """Files of that name below the folder of work and beside the record's folder: a record names no folders."""
    for top in dict.fromkeys((Path().resolve(), record.resolve().parent.parent)):
        if top == Path(top.anchor) or top == Path.home():
            continue  # a whole disk is not looked through
        for count, (folder, folders, files) in enumerate(os.walk(top)):
            if count >= _MOST_FOLDERS:
                break
            folders[:] = sorted(inner for inner in folders if not inner.startswith("."))
            if name in files:
                yield Path(folder) / name


def under_its_name(photo: Sought, place: Path) -> Path:
    """The photograph's path; a copy where the file was renamed since, as reasons of refusals name the file."""
    if photo.path is None:
        raise ValueError(f"{photo.file} was not found")
    name = Path(photo.file).name
    if photo.path.name == name:
        return photo.path
    place.mkdir(parents=True)
    return Path(shutil.copyfile(photo.path, place / name))
