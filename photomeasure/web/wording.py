"""Sentences of the program as the page says them: where they name an option of the command line, the page's own field.

The sentences themselves are made where they are made for the terminal and the report, and stay as they are in the record.
"""

from __future__ import annotations

import re

_SAID: tuple[tuple[str, str], ...] = (
    (r"say so with --centre [\d.]+,[\d.]+, else mark it with --centre X,Y", "choose it in the picture, else mark it there"),
    (r" with --centre(?: X,Y)?(?: \(pixels of the upright picture[^)]*\))?", " in the picture"),
    (r"and pass --bar-x and --bar-y", "and type in what it reads"),
    (r"Say --level-ground or --unknown-ground\.", "Say whether it is."),
    (r" \(--(?:ball-diameter|pick-u|centre|bar-[xy]|uncoupled|level-ground)\)", ""),
    (r"and pass --ball-diameter", "and give that diameter"),
    (r"pass --camera", "measure on the command line with --camera"),
    (r" \(photomeasure target\)", " (its link is on the first page)"),
)  # fmt: skip


def on_page(sentence: str) -> str:
    """The sentence with the page's words for what the command line calls otherwise."""
    for option, words in _SAID:
        sentence = re.sub(option, words, sentence)
    return sentence
