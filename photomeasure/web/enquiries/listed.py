"""The dealer's list: every rig that a customer was asked for or that was measured here, filtered, and as a table to take away."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from calib.outcome.cells import cell_text
from calib.words.said import date, said, say, say_many
from photomeasure.web.database import connected
from photomeasure.web.enquiries.enquiry import Enquiry
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.short import Short
from photomeasure.web.store import Kept, Store

STATES: Mapping[str, str] = {
    "waiting": said("link not opened yet"),
    "opened": said("opened, nothing sent"),
    "coming": said("photographs coming"),
    "measuring": said("being measured"),
    "not-measured": said("could not be measured"),
    "measured": said("to be answered"),
    "refused": said("cannot be measured"),
    "asked": said("asked for another one"),
    "here": said("measured here"),
    "closed": said("closed"),
}
LOOKS: Mapping[str, str] = {
    "within": said("within"), "above": said("above"), "below": said("below"), "undecided": said("too close to call"), "no-band": said("no band"),
    "refused": said("cannot measure"), "disagree": said("photograph and tape disagree"),
}  # fmt: skip
PAGE = 100
_EMPTY = Short(look="", title="", sure=True, height="", tape="", tape_agrees=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedRow:
    """place: its address under the token; who: the customer, or who measured; when: the last thing that happened."""

    place: str
    rig: str
    who: str
    state: str
    when: float
    is_new: bool
    said: Short
    photographs: int = 0  # that have come since the dealer looked at it
    messages: int = 0  # from the customer, likewise

    @property
    def came(self) -> str:
        """What is new, in words; empty where nothing is."""
        photographs = say_many("{count} photograph", "{count} photographs", count=self.photographs)
        messages = say_many("{count} message", "{count} messages", count=self.messages)
        told = ((self.photographs, photographs), (self.messages, messages))
        return ", ".join(words for count, words in told if count) if self.is_new else ""

    @property
    def state_words(self) -> str:
        return STATES[self.state]

    @property
    def when_words(self) -> str:
        at = datetime.fromtimestamp(self.when)
        return say("{day}, {time}", day=date(at, short=True), time=f"{at:%H:%M}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """text: in rig or who; state, look: by name, or empty for all; new: only what has not been looked at."""

    text: str = ""
    state: str = ""
    look: str = ""
    new: bool = False

    def holds(self, row: ListedRow) -> bool:
        words = self.text.casefold().split()
        said = f"{row.rig} {row.who}".casefold()
        return (
            all(word in said for word in words)
            and self.state in ("", row.state)
            and self.look in ("", row.said.look)
            and (row.is_new or not self.new)
        )


def filter_from(typed: Mapping[str, str]) -> Filter:
    """What is looked for, from the address; what is no choice there counts as not said."""
    state, look = typed.get("state", ""), typed.get("look", "")
    return Filter(
        text=typed.get("text", "").strip()[:100],
        state=state if state in STATES else "",
        look=look if look in LOOKS else "",
        new=bool(typed.get("new")),
    )


def rows_of(store: Store, measuring: Sequence[str] = (), failed: Collection[str] = ()) -> list[ListedRow]:
    """All of them, the newest first. measuring, failed: keys of enquiries that are being measured now, or that nothing
    came of."""
    newest: dict[str, Kept] = {}
    for kept in store.results():  # the newest of a folder first
        newest.setdefault(kept.folder, kept)
    enquiries = store.shelf.all()
    counts = _counts(store.shelf)
    rows = [
        _row(enquiry, newest.get(enquiry.folder), counts, enquiry.key in measuring, enquiry.key in failed)
        for enquiry in enquiries
    ]
    of_customers = {enquiry.folder for enquiry in enquiries}
    rows += [
        ListedRow(
            place=f"rig/{kept.key}/",
            rig=kept.rig,
            who=kept.by,
            state="here",
            when=kept.saved,
            is_new=False,
            said=kept.said,
        )
        for kept in newest.values()
        if kept.folder not in of_customers
    ]
    return sorted(rows, key=lambda row: -row.when)


def row_of(store: Store, enquiry: Enquiry, measuring: Sequence[str] = (), failed: Collection[str] = ()) -> ListedRow:
    """One enquiry's, without the others."""
    kept = next(iter(store.results(enquiry.folder)), None)
    return _row(enquiry, kept, _counts(store.shelf), enquiry.key in measuring, enquiry.key in failed)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Counts:
    """By enquiry: photographs that are here, those that came since the dealer looked, and the customer's messages since then."""

    photographs: Mapping[str, int]
    fresh: Mapping[str, int]
    messages: Mapping[str, int]


def _counts(shelf: Shelf) -> _Counts:
    since = "JOIN enquiries e ON e.key = enquiry WHERE coalesce(e.seen, 0)"
    with connected(shelf.database) as database:

        def counted(which: str) -> dict[str, int]:
            return dict(database.execute(f"SELECT enquiry, count(*) FROM {which} GROUP BY enquiry").fetchall())

        return _Counts(
            photographs=counted("photographs"),
            fresh=counted(f"photographs {since} < arrived"),
            messages=counted(f"messages {since} < at AND by_customer"),
        )


def state_of(enquiry: Enquiry, kept: Kept | None, measuring: bool, photographs: int, failed: bool = False) -> str:
    """What is to be done next, and by whom."""
    if enquiry.closed is not None:
        return "closed"
    if measuring:
        return "measuring"
    if enquiry.ask:
        return "asked"
    if enquiry.sent is None:
        return "waiting" if enquiry.opened is None else "coming" if photographs else "opened"
    if kept is None or kept.saved < enquiry.sent:
        return "not-measured" if failed else "measuring"
    return "refused" if kept.said.look == "refused" else "measured"


def _row(enquiry: Enquiry, kept: Kept | None, counts: _Counts, measuring: bool, failed: bool) -> ListedRow:
    return ListedRow(
        place=f"cases/{enquiry.key}/",
        rig=enquiry.about.rig,
        who=enquiry.about.customer,
        state=state_of(enquiry, kept, measuring, counts.photographs.get(enquiry.key, 0), failed),
        when=max(enquiry.made, enquiry.opened or 0.0, enquiry.news or 0.0, 0.0 if kept is None else kept.saved),
        is_new=enquiry.is_new,
        said=_EMPTY if kept is None else kept.said,
        photographs=counts.fresh.get(enquiry.key, 0),
        messages=counts.messages.get(enquiry.key, 0),
    )


def table(rows: Sequence[ListedRow]) -> str:
    """The list as CSV (RFC 4180). What a spreadsheet would take for a formula is made text."""
    written = io.StringIO()
    writer = csv.writer(written)
    writer.writerow(("rig", "who", "verdict", "only_if", "height", "tape", "tape_agrees", "state", "when", "new"))
    for row in rows:
        short = row.said
        agrees = "" if short.tape_agrees is None else "yes" if short.tape_agrees else "no"
        only_if = "" if not short.look else "no" if short.sure else "yes"
        when = datetime.fromtimestamp(row.when).isoformat(timespec="minutes")
        cells = (
            row.rig, row.who, LOOKS.get(short.look, ""), only_if, short.height, short.tape, agrees, row.state_words, when,
            "yes" if row.is_new else "no",
        )  # fmt: skip
        writer.writerow([cell_text(cell) for cell in cells])
    return written.getvalue()
