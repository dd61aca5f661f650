"""The search for the codes' bits: which words of 5 x 5 bits can still be added to those that are printed, and how many at once.

    python -m tests.experiments.code_search            # beside all codes that there are
    python -m tests.experiments.code_search --first 26 # as it stood before the second edition

A code must differ from every other in all four rotations in `CODE_MIN_DISTANCE` bits, from its own rotations in 10, and have no
row or column of one colour. Half a minute; how many fit beside each other is found by trying them in random orders.
"""

from __future__ import annotations

import argparse

import numpy as np
from numpy.typing import NDArray

from calib.kit.code_bits import CODE_BITS, CODE_CELLS, CODE_MIN_DISTANCE

Words = NDArray[np.uint32]
OWN_DISTANCE = 10
_SIDE, _BITS = CODE_CELLS, CODE_CELLS * CODE_CELLS
_TURNED = np.rot90(np.arange(_BITS).reshape(_SIDE, _SIDE)).ravel()  # where each bit goes in a quarter turn
_CHUNK = 1 << 21


def turned(words: Words) -> Words:
    """Each word a quarter turn on."""
    found = np.zeros_like(words)
    for to, source in enumerate(_TURNED):
        found |= ((words >> np.uint32(source)) & np.uint32(1)) << np.uint32(to)
    return found


def apart(one: Words, other: Words | np.uint32) -> NDArray[np.uint8]:
    """In how many bits they differ."""
    return np.asarray(np.bitwise_count(one ^ other), dtype=np.uint8)


def rotations(words: Words) -> list[Words]:
    """The words in all four rotations."""
    found = [words]
    for _ in range(3):
        found.append(turned(found[-1]))
    return found


def sound(words: Words) -> Words:
    """Those with something of both colours in each row and column, and far from their own rotations."""
    for step, stride in ((1, _SIDE), (_SIDE, 1)):
        for line in range(_SIDE):
            mask = np.uint32(sum(1 << (line * stride + step * i) for i in range(_SIDE)))
            words = words[((words & mask) != 0) & ((words & mask) != mask)]
    _, quarter, half, _ = rotations(words)
    return words[(apart(words, quarter) >= OWN_DISTANCE) & (apart(words, half) >= OWN_DISTANCE)]


def beside(words: Words, codes: list[np.uint32]) -> Words:
    """Those that are far enough from every code in all four rotations."""
    for code in codes:
        for turn in rotations(np.array([code], dtype=np.uint32)):
            words = words[apart(words, turn[0]) >= CODE_MIN_DISTANCE]
    return words


def most_at_once(words: Words, tries: int, rng: np.random.Generator) -> int:
    """How many of them fit beside each other, at least: the best of random orders."""
    best = 0
    for _ in range(tries if len(words) else 0):
        left, taken = words, 0
        while len(left):
            taken, left = taken + 1, beside(left, [left[rng.integers(len(left))]])
        best = max(best, taken)
    return best


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=len(CODE_BITS), help="only so many of the codes count")
    parser.add_argument("--tries", type=int, default=200)
    wanted = parser.parse_args()
    codes = [np.uint32(int(bits[::-1], 2)) for bits in CODE_BITS[: wanted.first]]
    left = np.concatenate(
        [
            beside(sound(np.arange(start, start + _CHUNK, dtype=np.uint32)), codes)
            for start in range(0, 1 << _BITS, _CHUNK)
        ]
    )
    most = most_at_once(left, wanted.tries, np.random.default_rng(1))
    print(f"beside {len(codes)} codes: {len(left)} words, of which {most} fit beside each other")


if __name__ == "__main__":
    main()
