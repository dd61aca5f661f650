"""Every sentence that the code can say is told in each language, and fills in what the English one does."""

from __future__ import annotations

import pytest

from calib.words.language import Language
from tests.words import OTHERS, faults, in_the_code


@pytest.mark.parametrize("language", OTHERS)
def test_catalogue_and_code_say_the_same(language: Language) -> None:
    """Run `python -m tests.words` after a new sentence, and translate what came in."""
    assert list(faults(language)) == []


def test_sentences_are_found() -> None:
    """The search itself: a sentence of each room that speaks."""
    files = {file.split("/")[1] for files in in_the_code().values() for file in files}
    assert {"verdict", "solution", "record", "rules", "interval"} <= files
