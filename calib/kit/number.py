"""The number of a print, as a strip of black and white modules: twenty bits and a check of sixteen.

Module 0 is the strip's first; black is 1. The check is the CRC of the twenty bits with the polynomial x^16 + x^12 + x^5 + 1
(ITU-T V.41, from memory), seeded with ones: over so short a word it notices every one, two or three wrong bits, every
burst of up to sixteen, and all but one in 65 536 of anything else.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass

NUMBER_BITS, CHECK_BITS = 20, 16
STRIP_MODULES = NUMBER_BITS + CHECK_BITS
MAX_NUMBER = 999_999
_POLYNOMIAL, _SEED = 0x1021, 0xFFFF


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """Where the modules are printed: from the top down, page mm."""

    left_mm: float
    width_mm: float
    top_mm: float
    module_mm: float

    def sides_mm(self, module: int) -> tuple[float, float, float, float]:
        """Left, bottom, right, top of a module, page mm; module 0 is at the top."""
        top = self.top_mm - module * self.module_mm
        return self.left_mm, top - self.module_mm, self.left_mm + self.width_mm, top


def _check(number: int) -> int:
    state = _SEED
    for place in reversed(range(NUMBER_BITS)):
        out = (state >> 15) ^ (number >> place & 1)
        state = (state << 1) & 0xFFFF
        if out:
            state ^= _POLYNOMIAL
    return state


def modules_of(number: int) -> tuple[bool, ...]:
    """The strip's modules, True is black; ValueError for a number that is none."""
    if not 1 <= number <= MAX_NUMBER:
        raise ValueError(f"number {number} is not within 1 to {MAX_NUMBER}")
    word = number << CHECK_BITS | _check(number)
    return tuple(bool(word >> place & 1) for place in reversed(range(STRIP_MODULES)))


def number_of(modules: tuple[bool, ...]) -> int | None:
    """The number that the modules say, or None where their check does not hold."""
    word = int("".join("1" if black else "0" for black in modules), 2)
    number, check = word >> CHECK_BITS, word & ((1 << CHECK_BITS) - 1)
    return number if 1 <= number <= MAX_NUMBER and check == _check(number) else None


def draw_number() -> int:
    """A number for a new print, so that no two prints of a yard are likely to share one."""
    return 1 + secrets.randbelow(MAX_NUMBER)
