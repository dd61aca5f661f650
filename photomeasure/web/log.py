"""A log for whoever runs the page: one line of JSON for each thing that happened, with nothing of people in it.

No addresses of people, no names, no file names, no words of links or sessions, and no message of an error, which may quote
any of them: of an address only the words that are the same for everybody, of a fault its kind and where in the program.
"""

from __future__ import annotations

import errno
import json
import logging
import sys
import time
import traceback
from logging.handlers import WatchedFileHandler
from pathlib import Path

from calib.outcome.errors import InputError
from calib.words.said import said, say
from photomeasure.web.problems import behind, of_the_disk

_LOG = logging.getLogger("photomeasure.page")
_LOG.propagate = False
_OURS = Path(__file__).parents[2]
# words of addresses that are the same for everybody; anything else may be a secret
_WORDS = frozenset({
    "answers", "arriving", "ask", "case", "case.pdf", "cases", "close", "coupled", "delete", "edit", "export.zip",
    "forget", "guide", "health", "kit.pdf", "level", "level.jpg", "level.json", "link", "list.csv", "live", "look",
    "look.css", "manifest.webmanifest", "mark", "measure", "message", "new", "next", "phone", "photographs", "plan",
    "print", "question", "record.json", "remembered", "report.pdf", "rig", "send", "settings", "sign-in", "sign-out",
    "static", "tape", "withdraw",
})  # fmt: skip


def log_to(place: str) -> None:
    """Write to a file, which another program may move away and begin anew (logrotate), or "-" for standard error.
    Raises InputError."""
    try:
        handler: logging.Handler = (
            logging.StreamHandler(sys.stderr) if place == "-" else WatchedFileHandler(place, encoding="utf-8")
        )
    except OSError as error:
        raise InputError(
            said("The log cannot be written to {place}: {strerror}.", place=place, strerror=error.strerror),
            expected=said("a file in a folder that this program may write in, or - for standard error"),
            remedy=said("name another file, or make its folder first"),
        ) from error
    handler.setFormatter(logging.Formatter("%(message)s"))
    _LOG.handlers[:] = [handler]
    _LOG.setLevel(logging.INFO)


def hush_readers_of_forms() -> None:
    """What a broken form makes their library say to programmers is no line of this program's, and anybody can send one."""
    logging.getLogger("python_multipart").setLevel(logging.CRITICAL)


def is_on() -> bool:
    """Whether a log is written."""
    return _LOG.level == logging.INFO  # others may hang handlers on it


def note(event: str, **said: str | int | float) -> None:
    """One line. said: only what is safe to be read by anybody."""
    if is_on():
        now = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())
        _LOG.info(json.dumps({"time": now, "event": event, **said}))


def note_request(method: str, path: str, status: int, taken_s: float) -> None:
    """An answer that was given."""
    known = method if method in ("GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH") else "other"
    note("answered", method=known, what=shape(path), status=status, ms=round(1000.0 * taken_s))


def fault_of_the_program(error: BaseException) -> None:
    """A line for whoever runs it: in the log where there is one, else on the standard error."""
    if is_on():
        note_fault(error)
    else:
        print(f"photomeasure: fault of the program: {type(error).__name__}: {error}", file=sys.stderr)


def what_went_wrong(error: BaseException) -> None:
    """The same where the disk or a folder may be to blame, which is said then."""
    if is_on() or of_the_disk(error) is None:
        fault_of_the_program(error)
    else:
        print(say("photomeasure: what the page keeps: {error}", error=behind(error)), file=sys.stderr)


def told_of(error: Exception) -> InputError | None:
    """What somebody is told of an error: what was wrong with what they gave, or with the disk; None: a fault of the program.
    Whoever runs the page is told of all but the first."""
    lost = of_the_disk(error)
    if lost is None and isinstance(error, InputError):
        return error
    what_went_wrong(error)
    return lost


def note_fault(error: BaseException) -> None:
    """A fault of the program: its kind, and the places in the program that led there."""
    reason = behind(error)
    frames = traceback.extract_tb(error.__traceback__)
    if reason is not error:
        frames += traceback.extract_tb(reason.__traceback__)
    ours = [
        f"{Path(f.filename).relative_to(_OURS)}:{f.lineno}" for f in frames if Path(f.filename).is_relative_to(_OURS)
    ]
    number = reason.errno if isinstance(reason, OSError) else None
    of_the_system = getattr(reason, "sqlite_errorname", None) or errno.errorcode.get(number or 0, "")
    kind = " ".join([type(reason).__name__, of_the_system]).strip()
    note("fault", kind=kind, at=" < ".join(reversed(ours[-4:])))


def shape(path: str) -> str:
    """An address without what is anybody's own: `/*/rig/*/mark`."""
    return "/".join(part if part in _WORDS or not part else "*" for part in path.split("/")[:8])
