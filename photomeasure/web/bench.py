"""Where the work is done, so that the page goes on answering: one measurement at a time, in a thread beside the loop."""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from dataclasses import replace
from typing import TypeVar

from starlette.concurrency import run_in_threadpool

from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.pipeline import Standing
from photomeasure.record.schema import Record
from photomeasure.seen.camera_for import profile_folder
from photomeasure.seen.look import Refused
from photomeasure.web.answers import Asked, Centre, checked
from photomeasure.web.cases import Case, Doing
from photomeasure.web.measuring import measured, stood
from photomeasure.web.previews import Preview, make_preview
from photomeasure.web.problems import PageError
from photomeasure.web.remembered import Remembered

T = TypeVar("T")
MOST_WAITING = 8


class Bench:
    """Measurements and reports wait in one line: memory for one large photograph at a time, and figures in order."""

    def __init__(self, remembered: Remembered | None = None) -> None:
        self.remembered = Remembered(profile_folder()) if remembered is None else remembered
        self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="measuring")
        self._quick = ThreadPoolExecutor(max_workers=1, thread_name_prefix="marks")
        self._waiting = 0

    @property
    def waiting(self) -> int:
        return self._waiting

    async def aside(self, work: Callable[[], T]) -> T:
        """Short work on files, beside the line."""
        return await run_in_threadpool(work)

    async def in_line(self, work: Callable[[], T], *, patient: bool = False) -> T:
        """Long work, one at a time; raises PageError where too many wait already, unless it is for somebody who waits as long
        as it takes."""
        if patient:
            return await asyncio.get_running_loop().run_in_executor(self._worker, copy_context().run, work)
        if self._waiting >= MOST_WAITING:
            raise PageError(
                503,
                said("Too many measurements are waiting."),
                expected=said("a few people at a time"),
                remedy=said("wait a minute and measure again"),
            )
        self._waiting += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._worker, copy_context().run, work)
        finally:
            self._waiting -= 1

    async def quick(self, work: Callable[[], T]) -> T:
        """Some hundredths of a second that somebody waits for with a finger on the screen: not behind a measurement."""
        return await asyncio.get_running_loop().run_in_executor(self._quick, copy_context().run, work)

    async def standing(self, case: Case) -> Standing | Refused:
        """What a case's pictures show of kit and cameras; looked at once. Raises InputError."""
        if case.measured is not None and case.measured.standing is not None:
            return case.measured.standing
        async with case.looking:
            if case.standing is None:
                asked, wrong = checked(case.answers)
                if asked is None:
                    raise next(iter(wrong.values()))
                request = asked.request(case.paths, (), remembered=self.remembered.folder)
                case.standing = await self.in_line(lambda: stood(request, case.names))
            return case.standing

    def doing(self, asked: Asked, centres: tuple[Centre, ...], pick_u_px: float) -> Doing:
        """What a measurement is told apart by: the same once more is not measured again, unless a phone or a print was
        remembered or forgotten since."""
        return asked, centres, pick_u_px, self.remembered.edition()

    async def measure(self, case: Case, asked: Asked, centres: tuple[Centre, ...], *, patient: bool = False) -> None:
        """Measure a case. What is being measured, or was measured last, is not measured again. Raises InputError."""
        doing = self.doing(asked, centres, case.pick_u_px)
        if case.doing == doing and case.task is None and case.measured is not None:
            return  # measured before the program was started
        if case.task is None or case.doing != doing or case.failed:
            case.doing = doing
            case.task = asyncio.create_task(self._measure(case, asked, centres, patient))
        await asyncio.shield(case.task)  # whoever goes away does not take it from the one who waits

    async def _measure(self, case: Case, asked: Asked, centres: tuple[Centre, ...], patient: bool) -> None:
        request = asked.request(case.paths, centres, case.pick_u_px, remembered=self.remembered.folder)
        case.measured = await self.in_line(lambda: measured(request, asked, case.names), patient=patient)
        case.centres = centres

    async def replace_record(self, case: Case, record: Record) -> None:
        """Another record for the same measurement (a tape's reading in it), and pictures that say what it says."""
        if case.measured is None:
            return
        from photomeasure.shown.picture.reframed import reframed

        before = case.measured
        drawn = await self.in_line(lambda: reframed(record, before.pictures))
        case.measured = replace(before, record=record, pictures=tuple(drawn))

    async def preview(self, case: Case, number: int) -> Preview | Refusal:
        """Preview and tiles of a photograph, counted from 1; made once."""
        async with case.looking:
            known = case.previews.get(number)
            if known is None:
                upload = case.uploads[number - 1]
                folder = case.folder / f"preview-{case.key}-{number}"
                shutil.rmtree(folder, ignore_errors=True)  # of an earlier start
                known = await self.in_line(lambda: make_preview(upload.path, folder))
                if isinstance(known, Refusal):
                    reason = known.reason.replace(upload.path.name, upload.name)
                    known = replace(known, reason=reason)
                case.previews[number] = known
        return known

    def close(self) -> None:
        """Forget what has not begun; what has begun ends by itself."""
        self._quick.shutdown(wait=True, cancel_futures=True)
        self._worker.shutdown(wait=True, cancel_futures=True)
