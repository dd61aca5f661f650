"""Errors that reach a browser: a status, and what happened, what was expected, what to do next."""

from __future__ import annotations

import errno
import sqlite3

from calib.outcome.errors import InputError, NoRoomError
from calib.words.said import said, said_many

FORM_BYTES = 100_000  # of a form without photographs
_FULL = frozenset({errno.ENOSPC, errno.EDQUOT})
_AWAY = frozenset({
    errno.EROFS, errno.EACCES, errno.EPERM, errno.ENOENT, errno.ENOTDIR, errno.EIO, errno.ESTALE,
})  # fmt: skip
_LOST = frozenset({
    sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_BUSY, sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_NOTADB,
})  # fmt: skip


class PageError(InputError):
    """An InputError with an HTTP status of its own. retry_s: after how many seconds it may be tried again; at: the address
    of what is there all the same."""

    def __init__(
        self, status: int, what: str, *, expected: str, remedy: str, retry_s: int | None = None, at: str | None = None
    ) -> None:
        super().__init__(what, expected=expected, remedy=remedy)
        self.status, self.retry_s, self.at = status, retry_s, at


def too_large(limit_bytes: int) -> PageError:
    """More bytes than are taken."""
    if limit_bytes <= FORM_BYTES:  # nothing with a photograph in it
        return PageError(
            413,
            said("What was sent is larger than {kilobytes} kB.", kilobytes=limit_bytes // 1000),
            expected=said("the form as the page sends it"),
            remedy=said("shorten what was typed, and send it again"),
        )
    return PageError(
        413,
        said("What was sent is larger than {megabytes} MB.", megabytes=limit_bytes // 1_000_000),
        expected=said("one to three photographs as the phone saved them"),
        remedy=said("send fewer photographs at a time, or take them in the phone's ordinary mode"),
    )


def empty() -> PageError:
    """A file without anything in it, as phones give one that is not on the phone itself."""
    return PageError(
        400,
        said("The photograph is empty: there is nothing in its file."),
        expected=said("a photograph that is on the phone, and not only in its cloud"),
        remedy=said("open it on the phone once, so that it is fetched, and choose it again"),
    )


def more_than_was_said() -> PageError:
    """Of a photograph that comes in pieces."""
    return PageError(
        413,
        said("More of this photograph came than there was said to be."),
        expected=said("the file as it was chosen, not changed while it is sent"),
        remedy=said("send the photograph again"),
    )


def too_slow() -> PageError:
    """Given up, for it came too slowly."""
    return PageError(
        408,
        said("What was sent came too slowly, and was given up."),
        expected=said("photographs at the pace of a slow network, without a pause of more than a minute"),
        remedy=said("go where the network is better and send it again, one photograph at a time"),
    )


def too_many_at_once() -> PageError:
    """One device sends several things at the same time."""
    return PageError(
        503,
        said("Too many things are being sent from this device at the same time."),
        expected=said("one at a time"),
        remedy=said("wait until the others have arrived and send it again"),
    )


def too_often(what: str, wait_s: float) -> PageError:
    """what: a sentence on what there was too much of from one address."""
    minutes = max(1, round(wait_s / 60.0))
    return PageError(
        429,
        what,
        expected=said("a few tries, then some time in between"),
        remedy=said_many("wait {count} minute and try again", "wait {count} minutes and try again", count=minutes),
        retry_s=max(1, round(wait_s)),
    )


def signed_out() -> PageError:
    """Not signed in any more."""
    return PageError(
        401,
        said("You are not signed in any more, so this was not done."),
        expected=said("a page on which you have signed in during the last days"),
        remedy=said("open the first page, sign in there, and send it once more"),
    )


def old_form() -> PageError:
    """A form from before the sign-in."""
    return PageError(
        403,
        said("That page was from before you signed in, so nothing was done."),
        expected=said("a page that was loaded since"),
        remedy=said("go back, load that page anew and send it again"),
    )


def not_here() -> PageError:
    """No such address."""
    return PageError(
        404,
        said("There is nothing at this address."),
        expected=said("the address that the program printed when it was started, to its last letter"),
        remedy=said(
            "type it again, or start from there; only the last rigs are kept, and none after the program has stopped"
        ),
    )


def no_link() -> PageError:
    """No such link, or nothing there for it: told to a customer."""
    return PageError(
        404,
        said("There is nothing at this address."),
        expected=said("the whole link, as it was sent to you"),
        remedy=said("open it from the message; if there is still nothing, ask whoever sent it for a new one"),
    )


def another_name() -> PageError:
    """The address names a host that is not answered to."""
    return PageError(
        400,
        said("The page does not answer to the name in this address."),
        expected=said("the address that the program printed when it was started, from its first letter"),
        remedy=said("type that address; for another name of this machine start the program with --host and that name"),
    )


def from_elsewhere() -> PageError:
    """A form of another site."""
    return PageError(
        403,
        said("This was sent from another page."),
        expected=said("the buttons of this program's own page"),
        remedy=said("open the printed address and send it from there"),
    )


def not_kept() -> PageError:
    """Measured, and not written to the store."""
    return PageError(
        507,
        said("It was measured, but could not be kept."),
        expected=said("room and permission to write in the folder that --store names"),
        remedy=said("take the record away now: it is at its address until the program stops; then make room there"),
    )


def no_longer() -> PageError:
    """Photographs that were deleted after their days."""
    return PageError(
        410,
        said("The photographs of this rig are no longer kept."),
        expected=said("a rig whose photographs are there"),
        remedy=said("its record, figure and report are still here; to measure again, photograph it again"),
    )


def no_room() -> PageError:
    """The disk is full."""
    return PageError(
        507,
        said("There is no room for this photograph at the moment."),
        expected=said("room on the disk of the machine that receives it"),
        remedy=said("tell whoever sent you the link, and send it again later; what has arrived is kept"),
    )


def behind(error: BaseException) -> BaseException:
    """What the system said, where somebody's sentence on a file was made of it; a file that is not there is told by the
    sentence itself, as one photograph may have been deleted."""
    cause = error.__cause__
    if isinstance(error, PageError) or not isinstance(error, InputError):
        return error
    return cause if isinstance(cause, OSError) and not isinstance(cause, FileNotFoundError) else error


def of_the_disk(error: BaseException) -> PageError | None:
    """Where the disk or the folder that the page keeps things in is to blame, and not the program: full, taken away, to be
    read only. None for anything else."""
    of_a_sentence, error = error, behind(error)
    # SQLite's own codes are finer; their last eight bits say which of the plain ones they belong to
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF if isinstance(error, sqlite3.Error) else 0
    number = error.errno if isinstance(error, OSError) else None
    if isinstance(of_a_sentence, NoRoomError) or number in _FULL or code == sqlite3.SQLITE_FULL:
        return PageError(
            507,
            said("The disk of the machine that this page runs on is full."),
            expected=said("room there for photographs and for what is made of them"),
            remedy=said(
                "whoever runs the page makes room there; then send it again. What was kept before is still there"
            ),
        )
    gone = isinstance(error, sqlite3.OperationalError) and "no such table" in str(error)
    if code in _LOST or gone or number in _AWAY:
        return PageError(
            503,
            said("The folder in which this page keeps things cannot be read or written at the moment."),
            expected=said("a folder that is where it was, on a disk that takes what is written"),
            remedy=said(
                "whoever runs the page sees the reason where it was started, or in its log; then try once more"
            ),
        )
    return None


def too_many_photographs() -> PageError:
    """More photographs than one link may send."""
    return PageError(
        409,
        said("No more photographs can be sent with this link."),
        expected=said("a few photographs of one rig"),
        remedy=said("send what is there; whoever sent you the link will ask if another one is needed"),
    )


def link_ended(until: str, withdrawn: bool) -> PageError:
    """until: the day on which it ended."""
    return PageError(
        410,
        said("This link was withdrawn.") if withdrawn else said("This link was open until {until}.", until=until),
        expected=said("a link that is still open"),
        remedy=said("ask whoever sent it to you for a new one; photographs that have arrived are not lost"),
    )


def fault() -> PageError:
    """A fault of the program."""
    return PageError(
        500,
        said("The program made a mistake of its own."),
        expected=said("a result or a reason"),
        remedy=said("try once more; if it happens again, measure on the command line and report what that prints"),
    )
