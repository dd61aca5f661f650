"""Why a file is not read as a photograph, in words, and what to send instead."""

from __future__ import annotations

from pathlib import Path

from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.seen.formats import OPENED


def too_small(path: Path, size: tuple[int, int]) -> Refusal:
    """Fewer pixels than tell anything; size: (width, height)."""
    width, height = size
    return Refusal(
        code="too-small",
        reason=said("{path} is only {width} x {height} pixels.", path=path.name, width=width, height=height),
        remedy=said(
            "Send the photograph itself, not a preview; 1600 pixels on the long side is the least that is useful."
        ),
    )


def unreadable(path: Path, why: str) -> Refusal:
    """It is no photograph that is read, and why."""
    return Refusal(
        code="unreadable",
        reason=said("{path} cannot be read as a photograph: {why}.", path=path.name, why=why),
        remedy=said(
            "Send the file again as it came from the phone ({opened}), as a file rather than a forwarded picture.",
            opened=OPENED,
        ),
    )


def truncated(path: Path) -> Refusal:
    """Its end is missing."""
    return Refusal(
        code="truncated",
        reason=said("{path} is cut short or damaged: its end is missing.", path=path.name),
        remedy=said("Copy or send the file again, and check that its size is the same as on the phone."),
    )


def damaged(path: Path, words: str) -> Refusal:
    """Its decoder found it damaged; words: what it said."""
    return Refusal(
        code="damaged",
        reason=said(
            "{path} is damaged, and what a decoder makes of it may be shifted: {words}.", path=path.name, words=words
        ),
        remedy=said("Copy or send the file again as it came from the phone."),
    )


def too_large(path: Path, most_pixels: int) -> Refusal:
    """More pixels than are read of any."""
    return Refusal(
        code="too-large",
        reason=said(
            "{path} has more than {max_pixels} million pixels.", path=path.name, max_pixels=most_pixels // 1000000
        ),
        remedy=said("Use the phone's ordinary photo mode (12 to 50 million pixels)."),
    )


def too_large_whole(path: Path, size: tuple[int, int], most_pixels: int) -> Refusal:
    """More pixels than are read of what can only be decoded as a whole; size: (width, height)."""
    return Refusal(
        code="too-large",
        reason=said(
            "{path} has {pixels} million pixels and is stored in a way that can only be decoded as a whole (AVIF, WebP, progressive "
            "JPEG, HEIC in one tile, TIFF in tiles or in one strip): of such a picture no more than {max_pixels} million are read.",
            path=path.name,
            pixels=size[0] * size[1] // 1000000,
            max_pixels=most_pixels // 1000000,
        ),
        remedy=said(
            "Send the JPEG or HEIC as it came from the phone, or use its ordinary photo mode (12 to 50 million pixels)."
        ),
    )


def too_heavy(path: Path, most_bytes: int) -> Refusal:
    """More bytes than are read."""
    return Refusal(
        code="too-large",
        reason=said("{path} has more than {max_file_bytes} MB.", path=path.name, max_file_bytes=most_bytes // 1000000),
        remedy=said("Use the phone's ordinary photo mode, and send JPEG or HEIC."),
    )
