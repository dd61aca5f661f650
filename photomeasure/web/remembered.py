"""What the page remembers for every measurement: phones that were calibrated, prints whose check bars were measured.

Files as `calibrate --remember` and `kit remember` write them; a store has a folder of its own for them, so that it can be
moved whole, and begins with what the command line has remembered for this user.
"""

from __future__ import annotations

import hashlib
import shutil
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from calib.outcome.errors import InputError
from calib.profile.load import load_profile
from calib.profile.profile import Profile
from photomeasure.asked.prints import PRINTS, RememberedPrint, forget_print, remember_bars, remembered_prints
from photomeasure.seen.calibrated import remembered_as
from photomeasure.seen.camera_for import profile_folder


@dataclass(frozen=True, slots=True, kw_only=True)
class Phone:
    """A calibrated camera under the name of its file, without the ending."""

    name: str
    profile: Profile


class Remembered:
    """Over one folder: profiles in it, prints in a folder within it. It need not be there."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @classmethod
    def kept_in(cls, folder: Path) -> Remembered:
        """A store's own. Raises OSError."""
        if not folder.is_dir():
            beside = folder.with_name(f"{folder.name}.new")
            shutil.rmtree(beside, ignore_errors=True)
            beside.mkdir(mode=0o700)
            for found in (*profile_folder().glob("*.json"), *(profile_folder() / PRINTS).glob("*.json")):
                target = beside / found.relative_to(profile_folder())
                target.parent.mkdir(mode=0o700, exist_ok=True)
                shutil.copyfile(found, target)
            beside.rename(folder)
        return cls(folder)

    def edition(self) -> str:
        """Another one after each change, also by the command line; empty as long as nothing is remembered."""
        digest, any_there = hashlib.sha256(), False
        for path in sorted((*self.folder.glob("*.json"), *(self.folder / PRINTS).glob("*.json"))):
            with suppress(OSError):  # forgotten just now
                digest.update(f"{path.name}\0{path.stat().st_size}\0".encode() + path.read_bytes())
                any_there = True
        return digest.hexdigest() if any_there else ""

    # -- prints ----------------------------------------------------------------------------------------------------

    def prints(self) -> tuple[RememberedPrint, ...]:
        return remembered_prints(self.folder)

    def keep_print(self, number: int, x_mm: float | None, y_mm: float | None) -> None:
        """Raises InputError where what was kept of it before cannot be read, and where it cannot be written."""
        remember_bars(self.folder, number, x_mm, y_mm)

    def forget_print(self, number: int) -> None:
        forget_print(self.folder, number)

    # -- phones ----------------------------------------------------------------------------------------------------

    def phones(self) -> tuple[Phone, ...]:
        """The newest first; files that are none are passed over."""
        found = []
        for path in sorted(self.folder.glob("*.json")):
            with suppress(InputError):
                found.append(Phone(name=path.stem, profile=load_profile(path)))
        return tuple(sorted(found, key=lambda phone: (str(phone.profile.date or ""), phone.name), reverse=True))

    def keep_phone(self, profile: Profile) -> str:
        """Its name. Raises InputError where it cannot be written."""
        path = remembered_as(profile, self.folder)
        profile.save(path)
        return path.stem

    def forget_phone(self, name: str) -> None:
        """name: one of those that `phones` tells; any other is none."""
        if any(phone.name == name for phone in self.phones()):
            (self.folder / f"{name}.json").unlink(missing_ok=True)
