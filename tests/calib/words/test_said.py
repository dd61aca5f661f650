"""Sentences as template and values: English as text, other languages when they are shown, nothing lost on the way."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from calib.words.language import chosen, speaking, wanted
from calib.words.said import Digits, Said, joined, number, said, said_many, say, shown


def test_a_sentence_is_its_english_text() -> None:
    sentence = said("The bar is {mm:.1f} mm, {way}.", mm=3.27, way=said("longer"))
    assert sentence == "The bar is 3.3 mm, longer."
    assert {sentence: 1}["The bar is 3.3 mm, longer."] == 1


def test_numbers_of_numpy_and_paths_are_kept_as_plain_values() -> None:
    sentence = said("{a:.0f} {b}", a=np.float64(2.0), b=np.int64(3))
    assert isinstance(sentence, Said)
    assert sentence == "2 3"
    assert [type(value) for value in sentence.values.values()] == [float, int]


def test_figures_get_the_languages_decimal_sign_and_names_do_not() -> None:
    sentence = said("{mm:.1f} mm, {rounded} mm, {file}", mm=3.26, rounded=Digits("412.60"), file="v1.5.jpg")
    with speaking("de"):
        assert shown(sentence) == "3,3 mm, 412,60 mm, v1.5.jpg"
        assert number(0.25, ".2f") == "0,25"
    assert shown(sentence) == "3.3 mm, 412.60 mm, v1.5.jpg"


def test_what_is_within_a_sentence_is_told_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nested sentences, lists of them, and one and many; the catalogue is made up."""
    words = {"{count} day": "{count} Tag", "{count} days": "{count} Tage", "trailer {states}": "Anhänger {states}"}
    words |= {"laden": "beladen", "connected": "angekuppelt"}

    def told(language: str, one: str, many: str | None, count: int | None) -> str:
        return words.get(one if many is None or count == 1 else many, one)

    monkeypatch.setattr("calib.words.said.singular_and_plural", told)
    with speaking("de"):
        assert (
            shown(said("trailer {states}", states=[said("laden"), said("connected")]))
            == "Anhänger beladen, angekuppelt"
        )
        assert shown(joined([said("laden"), "x.y"], "; ")) == "beladen; x.y"
        assert [shown(said_many("{count} day", "{count} days", count=n)) for n in (1, 2)] == ["1 Tag", "2 Tage"]


def test_it_survives_a_process() -> None:
    sentence = pickle.loads(pickle.dumps(said("{a:g} mm", a=1.5)))
    with speaking("da"):
        assert shown(sentence) == "1,5 mm"


def test_what_a_person_typed_is_never_translated() -> None:
    with speaking("de"):
        assert shown("laden") == "laden"
        assert say("laden") != "laden"


def test_a_language_holds_for_its_block_only() -> None:
    with speaking("da"):
        assert chosen() == "da"
    assert chosen() == "en"


@pytest.mark.parametrize(
    ("header", "expected"),
    [
        ("da-DK,da;q=0.9,en;q=0.8", "da"),
        ("fr;q=0.9,de;q=0.5,en;q=0.4", "de"),
        ("en-GB,de;q=0.9", "en"),
        ("de;q=0,en", "en"),
        ("", "en"),
        (";;q=x,,", "en"),
        ("sv", "en"),
    ],
)
def test_the_browsers_languages_by_their_weights(header: str, expected: str) -> None:
    assert wanted(header) == expected


def test_no_form_that_could_fill_the_memory() -> None:
    """Templates come from records of others too."""
    with pytest.raises(ValueError, match="no form"):
        said("{a:>1000000000}", a=1)
    with pytest.raises((ValueError, KeyError)):
        said("{a.__class__}", a=1)
