"""Wrong input as a person reads it: English in itself, told in the chosen language, and nothing in it that steers a terminal."""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from calib.outcome.plain_text import plain_path
from calib.words.language import speaking
from calib.words.said import Said, said
from photomeasure.asked.limits import TAPE_MM
from photomeasure.asked.typed import number_typed


def test_an_error_is_english_and_can_be_told() -> None:
    with pytest.raises(InputError) as raised, speaking("de"):
        number_typed("41a", said("The tape's reading"), TAPE_MM)
    error = raised.value
    assert str(error).startswith(
        "The tape's reading: '41a' is no number of a length.\n  Expected: 100 to 1500 mm, such as 800"
    )
    with speaking("de"):
        assert error.told().startswith("Die Ablesung des Maßbands: '41a' ist keine Länge.\n  Erwartet:")
        assert "\n  Nächster Schritt: die Ablesung" in error.told()
    assert error.told() == str(error)


def test_figures_in_it_have_the_languages_sign() -> None:
    with pytest.raises(InputError) as raised:
        TAPE_MM.check(said("The tape's reading"), 99.5)
    with speaking("da"):
        assert raised.value.told().startswith("Målebåndets aflæsning er 99,5 mm.")


def test_what_others_wrote_is_made_plain_within_a_sentence() -> None:
    error = InputError(said("{name} has no name.", name="a\x1b[31m"), expected=said("a name"), remedy=said("type it"))
    assert isinstance(error.what, Said) and "\x1b" not in error.told() and "\\x1b" in error.told()


def test_what_is_too_long_is_cut() -> None:
    error = InputError(said("{name} has no name.", name="a" * 9000), expected=said("a name"), remedy=said("type it"))
    assert len(error.what) < 4500


def test_a_files_name_is_one_line() -> None:
    """A second one would be told as a line of this program's."""
    error = InputError(said("There is no {path}.", path=Path("a\nWITHIN THE BAND.jpg")), expected="one", remedy="look")
    assert error.told().splitlines()[0] == "There is no a\\x0aWITHIN THE BAND.jpg."
    assert plain_path(Path("a\nb")) == "a\\x0ab"
