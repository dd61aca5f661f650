"""A phone is calibrated from the page: photographs of a board, one profile; the photographs are not kept."""

from __future__ import annotations

import asyncio
import secrets
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from calib.finding.boards import Chessboard
from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.asked.limits import BAR_MM, Limit
from photomeasure.asked.typed import number_typed
from photomeasure.seen.board_photos import KitSheet, Target, board_photos
from photomeasure.seen.calibrated import calibrated, profile_made
from photomeasure.web.bench import Bench
from photomeasure.web.called import called
from photomeasure.web.cases import shown_name, untaken
from photomeasure.web.enquiries.arriving import FREE_BYTES
from photomeasure.web.log import told_of
from photomeasure.web.problems import no_room
from photomeasure.web.remembered import Remembered

FEWEST, MOST = 3, 20  # photographs: fewer tell nothing, more only take time and memory
_CORNERS = Limit(low=3, high=40, unit="corners", remedy=said("count the inner corners: one less than the squares"))
_SQUARE_MM = Limit(low=2.0, high=200.0, unit="mm", remedy=said("measure ten squares, and divide by ten"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How the last calibration ended. name: of the phone's file where one was made; why: what speaks against it, what to do."""

    name: str = ""
    why: tuple[str, ...] = ()
    next_photos: tuple[str, ...] = ()


def target_from(typed: Mapping[str, str]) -> tuple[Target, dict[str, InputError]]:
    """The board that was photographed, and what is wrong by field."""
    wrong: dict[str, InputError] = {}

    def number(field: str, name: str, limit: Limit) -> float | None:
        if not typed[field]:
            return None
        try:
            return number_typed(typed[field], name, limit)
        except InputError as error:
            wrong[field] = error
            return None

    if typed["board"] != "chessboard":
        bar_x_mm, bar_y_mm = (number(f"sheet_{axis}", said("The bar"), BAR_MM) for axis in "xy")
        return KitSheet(bar_x_mm=bar_x_mm, bar_y_mm=bar_y_mm), wrong
    columns, rows = (number(name, said("Corners"), _CORNERS) for name in ("columns", "rows"))
    square_mm = number("square", said("The square"), _SQUARE_MM)
    for field, value in (("columns", columns), ("rows", rows), ("square", square_mm)):
        if value is None and field not in wrong:
            wrong[field] = InputError(
                said("Nothing was typed."), expected=said("a number"), remedy=said("count or measure it on the board")
            )
    if wrong:
        return KitSheet(), wrong
    return Chessboard(columns=round(columns or 0), rows=round(rows or 0), square_mm=square_mm or 0.0), wrong


class Calibrating:
    """One calibration at a time, in the bench's line. uploads: where its photographs lie until it has ended; what a killed
    program leaves there is removed at the next start."""

    def __init__(self, remembered: Remembered, bench: Bench, uploads: Path) -> None:
        self._remembered, self._bench, self._uploads = remembered, bench, uploads
        self._task: asyncio.Task[None] | None = None
        self.ended: Ended | None = None

    @property
    def under_way(self) -> bool:
        return self._task is not None and not self._task.done()

    def keep(self, files: Sequence[tuple[str, BinaryIO]]) -> dict[Path, str]:
        """Store what was sent; returns the paths with the person's own names. Raises PageError where the disk is nearly full."""
        if shutil.disk_usage(self._uploads).free < FREE_BYTES:
            raise no_room()
        folder = self._uploads / secrets.token_urlsafe(9)
        folder.mkdir(mode=0o700)
        stored: dict[Path, str] = {}
        for number, (name, stream) in enumerate(files, start=1):
            path = folder / f"board-{number:02d}"
            with path.open("wb") as target:
                shutil.copyfileobj(stream, target, 1 << 20)
            stored[path] = untaken(shown_name(name, number), stored.values())
        return stored

    def begin(self, photos: Mapping[Path, str], target: Target) -> bool:
        """photos: as they were kept; they are removed when it has ended. False, and removed at once, where another one was sent
        while these were being kept."""
        if self.under_way:
            shutil.rmtree(next(iter(photos)).parent, ignore_errors=True)
            return False
        self.ended = None
        self._task = asyncio.create_task(self._calibrate(photos, target))
        return True

    async def _calibrate(self, photos: Mapping[Path, str], target: Target) -> None:
        try:
            self.ended = await self._bench.in_line(lambda: self._made(photos, target), patient=True)
        except Exception as error:
            told = told_of(error)
            fault = (said("The program made a mistake of its own."),)
            self.ended = Ended(why=fault if told is None else (told.what, told.remedy))
        finally:
            shutil.rmtree(next(iter(photos)).parent, ignore_errors=True)

    def _made(self, photos: Mapping[Path, str], target: Target) -> Ended:
        with called(photos.items()):
            found = board_photos([Path(name) for name in photos.values()], target, _silent)
        if isinstance(found, Refusal):
            return Ended(why=(found.reason, found.remedy))
        calibration = calibrated(found, target, _silent)
        if isinstance(calibration, Refusal):
            gone = (said("{name}: {reason}", name=one.name, reason=one.reason) for one in found.unused)
            return Ended(why=(calibration.reason, calibration.remedy, *gone))
        profile = profile_made(calibration, found, target)
        return Ended(name=self._remembered.keep_phone(profile), next_photos=tuple(calibration.next_photos))

    def close(self) -> None:
        if self._task is not None:
            self._task.cancel()


def _silent(doing: str, done: float) -> None:
    """Nobody watches it."""
