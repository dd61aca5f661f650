"""A link's secret: who has it may send photographs for one rig, nobody can guess it, and the store holds only its digest."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass

from photomeasure.web.address import SIGNS

_LONG = 26  # of 31 signs: 128 bits; none that a messenger takes for the end of an address


def new_secret() -> str:
    """By the system's source of randomness."""
    return "".join(secrets.choice(SIGNS) for _ in range(_LONG))


def digest_of(secret: str) -> str:
    """What is kept of it. A plain digest is enough for 128 random bits: there is nothing to try by a list."""
    return hashlib.sha256(secret.encode()).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """made, until, withdrawn: seconds since 1970."""

    enquiry: str
    made: float
    until: float
    withdrawn: float | None = None

    def is_open(self, now: float) -> bool:
        return self.withdrawn is None and now < self.until


def qr_svg(url: str) -> str:
    """The address for a phone's camera as an SVG drawing (ISO/IEC 18004), black on white in every scheme."""
    import segno

    code = segno.make(url, error="m", micro=False)
    return str(code.svg_inline(scale=4, border=4, dark="#000", light="#fff", omitsize=True))
