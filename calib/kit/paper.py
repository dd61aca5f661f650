"""The papers that the kit is printed on: name, words, size. A further one is named here and laid out in `papers`; nothing else.

Light, as the command line takes its choices from here before anything heavy is loaded.
"""

from __future__ import annotations

from typing import Literal, get_args

Paper = Literal["a4", "a3", "letter"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
PAPER_WORDS: dict[Paper, str] = {"a4": "A4", "a3": "A3", "letter": "US letter"}
# A4 and A3: ISO 216. US letter: ANSI/ASME Y14.1 (from memory), as in reference tables of paper sizes.
PAGES_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}
