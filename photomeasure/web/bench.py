"""Where the work is done, so that the page goes on answering: one measurement at a time, in a thread beside the loop."""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from contextvars import copy_context
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from starlette.concurrency import run_in_threadpool

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.pipeline import Standing
from photomeasure.record.schema import Record
from photomeasure.seen.camera_for import profile_folder
from photomeasure.seen.look import Refused
from photomeasure.web.answers import Asked, Centre, checked
from photomeasure.web.called import called
from photomeasure.web.cases import Case, Doing, Upload
from photomeasure.web.log import what_went_wrong
from photomeasure.web.measuring import Measured, Picture, figured, measured, stood
from photomeasure.web.previews import Preview, make_preview
from photomeasure.web.problems import PageError
from photomeasure.web.remembered import Remembered

T = TypeVar("T")
MOST_WAITING = 8


class Bench:
    """Measurements and reports wait in one line: memory for one large photograph at a time, and figures in order."""

    def __init__(self, remembered: Remembered | None = None, save: Callable[[Case], None] | None = None) -> None:
        """save: keeps a case's result for good, as it is when it is called."""
        self._save = save
        self.remembered = Remembered(profile_folder()) if remembered is None else remembered
        self._worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="measuring")
        self._quick = ThreadPoolExecutor(max_workers=1, thread_name_prefix="marks")
        self._waiting = 0
        self._drawing: set[asyncio.Task[None]] = set()

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
                case.standing = await self.in_line(lambda: stood(request, case.stored))
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
        figure: asyncio.Future[Measured] = asyncio.get_running_loop().create_future()
        told = figure.get_loop().call_soon_threadsafe

        def work() -> tuple[Picture, ...]:
            """Both in one go: no other measurement comes between, so that one rig's photographs are held at a time."""
            first, draw = figured(request, asked, case.stored)
            told(figure.set_result, first)
            return draw()

        whole = asyncio.create_task(self.in_line(work, patient=patient))
        await asyncio.wait((figure, whole), return_when=asyncio.FIRST_COMPLETED)
        if not figure.done():
            await whole  # raises what was wrong
        case.measured = figure.result()
        case.centres = centres
        case.drawing = asyncio.create_task(self._draw(case, case.measured, whole))
        self._drawing.add(case.drawing)
        case.drawing.add_done_callback(self._drawing.discard)

    async def _draw(self, case: Case, first: Measured, whole: asyncio.Task[tuple[Picture, ...]]) -> None:
        try:
            drawn = await whole
        except Exception as error:  # the figure stands without them
            what_went_wrong(error)
            drawn = ()
        if case.measured is first:
            case.measured = replace(first, names=tuple(name for name, _ in drawn), pictures=drawn)
            with suppress(InputError):  # told on the standard error, and what can be shown is here
                await self.keep(case)

    async def pictures(self, case: Case) -> tuple[Picture, ...]:
        """What was measured drawn into the photographs: waited for, or drawn anew where the program ended before it was done."""
        if case.drawing is not None:
            await asyncio.shield(case.drawing)
        known = case.measured
        if known is None or len(known.pictures) == len(known.names):
            return () if known is None else known.pictures
        async with case.looking:
            if case.measured is known:
                await self._draw_anew(case, known)
        return () if case.measured is None else case.measured.pictures

    async def _draw_anew(self, case: Case, known: Measured) -> None:
        from photomeasure.shown.picture.reframed import reframed

        asked, _ = checked(case.answers)
        asked = None if asked is None else replace(asked, carried=case.carried)
        if asked is None or case.doing != self.doing(asked, case.centres, case.pick_u_px):
            return  # it would be another figure
        request = asked.request(case.paths, case.centres, case.pick_u_px, remembered=self.remembered.folder)
        drawn = await self.in_line(lambda: reframed(known.record, measured(request, asked, case.stored).pictures))
        case.measured = replace(known, pictures=tuple(drawn))
        await self.keep(case)

    async def keep(self, case: Case) -> None:
        """Keep what was measured for good; one after the other, so that the last that is written is the newest."""
        async with case.keeping:
            if self._save is not None:
                save = self._save
                await self.aside(lambda: save(case))

    async def replace_record(self, case: Case, record: Record) -> None:
        """Another record for the same measurement (a tape's reading in it), and pictures that say what it says."""
        from photomeasure.shown.picture.reframed import reframed

        await self.pictures(case)
        before = case.measured
        if before is None:
            return
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
                known = await self.in_line(lambda: previewed(upload, folder))
                case.previews[number] = known
        return known

    async def close(self) -> None:
        """Forget what has not begun; what has begun ends by itself, and is kept."""
        self._quick.shutdown(wait=True, cancel_futures=True)
        self._worker.shutdown(wait=True, cancel_futures=True)
        await asyncio.gather(*self._drawing, return_exceptions=True)


def previewed(upload: Upload, folder: Path) -> Preview | Refusal:
    """Preview and tiles of a photograph, written into a folder of their own; refused by the person's name for it."""
    try:
        with called([(upload.path, upload.name)]):
            return make_preview(Path(upload.name), folder)
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise
