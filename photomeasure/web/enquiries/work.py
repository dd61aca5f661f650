"""What is done for an enquiry in the bench's line: a look at each photograph as it comes, a measurement when they are sent.

Whatever was under way when the program was killed is done after the next start: a photograph without a look is looked at when
somebody waits for it, what was sent and has no result is measured at once.
"""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TypeVar

import cv2

from calib.outcome.errors import InputError
from calib.outcome.files import write_atomic
from calib.words.said import said
from photomeasure.asked.request import PICK_SIGMA_PX
from photomeasure.web.answers import Answers, checked
from photomeasure.web.asking import asks
from photomeasure.web.bench import Bench
from photomeasure.web.cases import Case, Cases, Upload, untaken
from photomeasure.web.database import connected
from photomeasure.web.enquiries.asked import answers_of
from photomeasure.web.enquiries.enquiry import Enquiry, Looked, Photograph
from photomeasure.web.enquiries.photographs import keep_looked, of_this_round
from photomeasure.web.enquiries.said import asking, said_of, with_answer
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.log import told_of, what_went_wrong

T = TypeVar("T")
Signature = tuple[tuple[tuple[int, tuple[float, float] | None], ...], Answers, str]
SMALL_PX = 900
_FAULT = Looked(
    worth="could-be-better", sentence=said("It has arrived. It can be sent as it is, and will be looked at.")
)


class Work:
    """Over one store's enquiries."""

    def __init__(self, shelf: Shelf, cases: Cases, bench: Bench) -> None:
        self._shelf, self._cases, self._bench = shelf, cases, bench
        self._looks: dict[int, asyncio.Task[Looked]] = {}
        self._measures: dict[str, asyncio.Task[None]] = {}
        self._next: dict[
            str, tuple[Enquiry, tuple[Photograph, ...] | None]
        ] = {}  # to be measured after what is under way
        self._begun: dict[str, Signature] = {}  # what was measured last, by enquiry
        self._locks: dict[str, asyncio.Lock] = {}
        self.failed: dict[str, str] = {}  # why a measurement was not made, by enquiry

    async def aside(self, work: Callable[[], T]) -> T:
        return await self._bench.aside(work)

    @asynccontextmanager
    async def one_at_a_time(self, key: str) -> AsyncIterator[None]:
        """Pieces of one file come one after the other, however many are sent at once."""
        lock = self._locks.setdefault(key, asyncio.Lock())
        try:
            async with lock:
                yield
        finally:
            if not lock.locked():
                self._locks.pop(key, None)

    # -- a look --------------------------------------------------------------------------------------------------------

    async def look(self, enquiry: Enquiry, photograph: Photograph, wait_s: float) -> Looked | None:
        """What is seen in a photograph; None where that takes longer. It is looked at once, and goes on by itself."""
        if photograph.looked is not None:
            return photograph.looked
        task = self.look_soon(enquiry, photograph)
        done, _ = await asyncio.wait([task], timeout=wait_s)
        return task.result() if done else None

    def look_soon(self, enquiry: Enquiry, photograph: Photograph) -> asyncio.Task[Looked]:
        task = self._looks.get(photograph.number)
        if task is None:
            task = self._looks[photograph.number] = asyncio.create_task(self._look(enquiry, photograph))
        return task

    async def _look(self, enquiry: Enquiry, photograph: Photograph) -> Looked:
        if photograph.looked is not None:
            return photograph.looked
        try:
            try:
                looked = await self._bench.in_line(lambda: self._seen(enquiry, photograph), patient=True)
            except Exception as error:  # the customer goes on; the dealer will see what there is
                what_went_wrong(error)
                looked = _FAULT
            await self._bench.aside(lambda: keep_looked(self._shelf, photograph.number, looked))
            return looked
        finally:
            self._looks.pop(photograph.number, None)

    def _seen(self, enquiry: Enquiry, photograph: Photograph) -> Looked:
        from photomeasure.pipeline import measure
        from photomeasure.seen.look import Refused

        path = self._shelf.folder(enquiry) / photograph.file
        asked, wrong = checked(answers_of(enquiry))
        if asked is None:
            raise InputError(str(wrong), expected=said("answers that can be used"), remedy=said("change the case"))
        outcome = measure(asked.request((path,), (), remembered=self._bench.remembered.folder))
        photos = outcome.photos if isinstance(outcome, Refused) else tuple(view.photo for view in outcome.views)
        if photos:
            done, data = cv2.imencode(".jpg", photos[0].colour(SMALL_PX), [cv2.IMWRITE_JPEG_QUALITY, 82])
            if done and path.exists():  # not deleted meanwhile
                write_atomic(small_of(path), bytes(data.tobytes()))
        looked = said_of(outcome)
        some = asks(outcome) if isinstance(outcome, Refused) and looked.worth != "not-usable" else ()
        if not some or not path.exists():
            return looked
        write_atomic(ring_of(path), some[0].picture)
        return asking(looked, some[0].px, some[0].u_px)

    async def answer(self, photograph: Photograph, is_ball: bool) -> None:
        """The customer has said whether that is the ball."""
        looked = photograph.looked
        if looked is not None and looked.px is not None:
            answered = with_answer(looked, is_ball)
            await self._bench.aside(lambda: keep_looked(self._shelf, photograph.number, answered))

    # -- a measurement -------------------------------------------------------------------------------------------------

    def measure_soon(self, enquiry: Enquiry, photographs: tuple[Photograph, ...] | None = None) -> asyncio.Task[None]:
        """Measure what was sent, or these photographs; the result is the newest row of the enquiry's folder.

        Where something is being measured already, this comes after it: the last that was asked for counts.
        """
        task = self._measures.get(enquiry.key)
        if task is None or task.done():
            task = self._measures[enquiry.key] = asyncio.create_task(self._measure_all(enquiry, photographs))
        else:
            self._next[enquiry.key] = (enquiry, photographs)
        return task

    def has_news(self, enquiry: Enquiry) -> bool:
        """Whether something else would be measured than what was measured, or is being measured, last."""
        return self._begun.get(enquiry.key) != self._signature(enquiry, None)

    def _signature(self, enquiry: Enquiry, photographs: tuple[Photograph, ...] | None) -> Signature:
        some = photographs or _best(of_this_round(self._shelf, enquiry))
        marks = tuple((p.number, None if p.looked is None else p.looked.centre) for p in some)
        return marks, answers_of(enquiry), self._bench.remembered.edition()

    async def _measure_all(self, enquiry: Enquiry, photographs: tuple[Photograph, ...] | None) -> None:
        await self._measure(enquiry, photographs)
        while enquiry.key in self._next:
            await self._measure(*self._next.pop(enquiry.key))

    async def _measure(self, enquiry: Enquiry, photographs: tuple[Photograph, ...] | None) -> None:
        self.failed.pop(enquiry.key, None)
        try:
            self._begun[enquiry.key] = self._signature(enquiry, photographs)
            some = photographs or _best(of_this_round(self._shelf, enquiry))
            asked, wrong = checked(answers_of(enquiry))
            if asked is None:
                raise next(iter(wrong.values()))
            if not some:
                raise InputError(
                    said("No photograph is there."), expected=said("one at least"), remedy=said("ask for one")
                )
            folder = self._shelf.folder(enquiry)
            case = Case(
                key=secrets.token_urlsafe(9),
                folder=folder,
                uploads=_uploads(folder, some),
                answers=answers_of(enquiry),
                pick_u_px=max([PICK_SIGMA_PX, *(p.looked.u_px or 0.0 for p in some if p.looked and p.looked.centre)]),
                of_customer=True,
            )
            marks = tuple(None if p.looked is None else p.looked.centre for p in some)
            centres = marks if any(mark is not None for mark in marks) else ()
            self._cases.add(case)
            await self._bench.measure(case, asked, centres, patient=True)
            await self._bench.keep(case)
        except Exception as error:
            self.failed[enquiry.key] = _why_not(error)

    def measuring(self) -> list[str]:
        return [key for key, task in self._measures.items() if not task.done()]

    async def stop(self, enquiry: Enquiry) -> None:
        """Nothing more is done for an enquiry: what is under way is waited for."""
        self._next.pop(enquiry.key, None)
        self._begun.pop(enquiry.key, None)
        task = self._measures.pop(enquiry.key, None)
        if task is not None:
            await asyncio.wait([task])

    async def take_up(self) -> None:
        """After a start: measure what was sent and has no result yet."""
        for enquiry in await self._bench.aside(self._unmeasured):
            await asyncio.wait([self.measure_soon(enquiry)])

    def _unmeasured(self) -> list[Enquiry]:
        waiting = [enquiry for enquiry in self._shelf.all() if enquiry.sent is not None]
        return [e for e in waiting if (saved := result_of(self._shelf, e)) is None or saved[1] < (e.sent or 0.0)]

    def close(self) -> None:
        for task in (*self._looks.values(), *self._measures.values()):
            task.cancel()


def _why_not(error: Exception) -> str:
    """Why a measurement was not made, for the dealer."""
    told = told_of(error)
    if told is None:
        return said("The program made a mistake of its own.")
    return said("{what} Next: {remedy}.", what=told.what, remedy=told.remedy)


def result_of(shelf: Shelf, enquiry: Enquiry) -> tuple[str, float] | None:
    """Key of the newest result of an enquiry's photographs, and when it was made."""
    with connected(shelf.database) as database:
        row = database.execute(
            "SELECT key, saved FROM cases WHERE folder = ? ORDER BY saved DESC LIMIT 1", (enquiry.folder,)
        ).fetchone()
    return None if row is None else (row["key"], row["saved"])


def small_of(path: Path) -> Path:
    """Where a small copy of a photograph lies."""
    return path.with_name(f"{path.name}.jpg")


def ring_of(path: Path) -> Path:
    """Where the picture lies in which the customer is asked for the ball."""
    return path.with_name(f"{path.name}.ring.jpg")


def _best(photographs: tuple[Photograph, ...]) -> tuple[Photograph, ...]:
    """Those that can be used, or all where none can: then the result says why."""
    return tuple(p for p in photographs if p.usable) or photographs


def _uploads(folder: Path, photographs: tuple[Photograph, ...]) -> tuple[Upload, ...]:
    """Each under a name of its own: phones call all of theirs alike."""
    uploads: list[Upload] = []
    for photograph in photographs:
        name = untaken(photograph.name, [upload.name for upload in uploads])
        uploads.append(Upload(path=folder / photograph.file, name=name, sha256=photograph.sha256))
    return tuple(uploads)
