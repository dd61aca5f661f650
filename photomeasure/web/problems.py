"""Errors that reach a browser: a status, and what happened, what was expected, what to do next."""

from __future__ import annotations

from calib.outcome.errors import InputError


class PageError(InputError):
    """An InputError with an HTTP status of its own. retry_s: after how many seconds it may be tried again."""

    def __init__(self, status: int, what: str, *, expected: str, remedy: str, retry_s: int | None = None) -> None:
        super().__init__(what, expected=expected, remedy=remedy)
        self.status, self.retry_s = status, retry_s


def too_large(limit_bytes: int) -> PageError:
    """More bytes than are taken."""
    return PageError(
        413,
        f"What was sent is larger than {limit_bytes // 1_000_000} MB.",
        expected="one to three photographs as the phone saved them",
        remedy="send fewer photographs at a time, or take them in the phone's ordinary mode",
    )


def too_slow() -> PageError:
    """Given up, for it came too slowly."""
    return PageError(
        408,
        "What was sent came too slowly, and was given up.",
        expected="photographs at the pace of a slow network, without a pause of more than a minute",
        remedy="go where the network is better and send it again, one photograph at a time",
    )


def too_many_at_once() -> PageError:
    """One device sends several things at the same time."""
    return PageError(
        503,
        "Too many things are being sent from this device at the same time.",
        expected="one at a time",
        remedy="wait until the others have arrived and send it again",
    )


def too_often(what: str, wait_s: float) -> PageError:
    """what: of which there was too much from one address."""
    minutes = max(1, round(wait_s / 60.0))
    return PageError(
        429,
        f"There was {what} too often.",
        expected="a few tries, then some time in between",
        remedy=f"wait {minutes} minute{'' if minutes == 1 else 's'} and try again",
        retry_s=max(1, round(wait_s)),
    )


def signed_out() -> PageError:
    """Not signed in any more."""
    return PageError(
        401,
        "You are not signed in any more, so this was not done.",
        expected="a page on which you have signed in during the last days",
        remedy="open the first page, sign in there, and send it once more",
    )


def old_form() -> PageError:
    """A form from before the sign-in."""
    return PageError(
        403,
        "That page was from before you signed in, so nothing was done.",
        expected="a page that was loaded since",
        remedy="go back, load that page anew and send it again",
    )


def not_here() -> PageError:
    """No such address."""
    return PageError(
        404,
        "There is nothing at this address.",
        expected="the address that the program printed when it was started, to its last letter",
        remedy="type it again, or start from there; only the last rigs are kept, and none after the program has stopped",
    )


def another_name() -> PageError:
    """The address names a host that is not answered to."""
    return PageError(
        400,
        "The page does not answer to the name in this address.",
        expected="the address that the program printed when it was started, from its first letter",
        remedy="type that address; for another name of this machine start the program with --host and that name",
    )


def from_elsewhere() -> PageError:
    """A form of another site."""
    return PageError(
        403,
        "This was sent from another page.",
        expected="the buttons of this program's own page",
        remedy="open the printed address and send it from there",
    )


def not_kept() -> PageError:
    """Measured, and not written to the store."""
    return PageError(
        507,
        "It was measured, but could not be kept.",
        expected="room and permission to write in the folder that --store names",
        remedy="take the record away now: it is at its address until the program stops; then make room there",
    )


def no_longer() -> PageError:
    """Photographs that were deleted after their days."""
    return PageError(
        410,
        "The photographs of this rig are no longer kept.",
        expected="a rig whose photographs are there",
        remedy="its record, figure and report are still here; to measure again, photograph it again",
    )


def no_room() -> PageError:
    """The disk is full."""
    return PageError(
        507,
        "There is no room for this photograph at the moment.",
        expected="room on the disk of the machine that receives it",
        remedy="tell whoever sent you the link, and send it again later; what has arrived is kept",
    )


def too_many_photographs() -> PageError:
    """More photographs than one link may send."""
    return PageError(
        409,
        "No more photographs can be sent with this link.",
        expected="a few photographs of one rig",
        remedy="send what is there; whoever sent you the link will ask if another one is needed",
    )


def link_ended(until: str, withdrawn: bool) -> PageError:
    """until: the day on which it ended."""
    return PageError(
        410,
        "This link was withdrawn." if withdrawn else f"This link was open until {until}.",
        expected="a link that is still open",
        remedy="ask whoever sent it to you for a new one; photographs that have arrived are not lost",
    )


def fault() -> PageError:
    """A fault of the program."""
    return PageError(
        500,
        "The program made a mistake of its own.",
        expected="a result or a reason",
        remedy="try once more; if it happens again, measure on the command line and report what that prints",
    )
