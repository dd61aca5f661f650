"""An option that holds one value and is given two: told. Before, the second counted, and nobody said so."""

from __future__ import annotations

import pytest

from calib.outcome.errors import InputError
from tests.cli.test_look import run


@pytest.mark.parametrize(
    ("words", "both"),
    [
        (("--bar-x", "150", "--bar-x", "140"), "--bar-x 150 and --bar-x 140"),
        (("--bar-x=150", "--bar-y=150", "--bar-x=151"), "--bar-x 150 and --bar-x 151"),
        (("--coupled", "--uncoupled"), "--coupled and --uncoupled"),
        (("--json", "a", "--json", "b"), "--json a and --json b"),
    ],
)
def test_two_that_differ(words: tuple[str, ...], both: str) -> None:
    with pytest.raises(InputError, match=f"{both} were both given") as caught:
        run("measure", "no-such.jpg", *words)
    assert "leave the wrong one out" in caught.value.remedy


@pytest.mark.parametrize(
    "words",
    [
        ("--bar-x", "150", "--bar-x=150"),
        ("--laden", "--laden"),
        ("--centre", "1,1", "--centre", "2,2"),
        ("--before", "a.jpg", "--before", "b.jpg"),
    ],
)
def test_the_same_twice_and_what_may_be_repeated(words: tuple[str, ...]) -> None:
    with pytest.raises(InputError, match=r"no-such|a\.jpg"):  # read, and stopped at the photographs only
        run("measure", "no-such.jpg", "also-none.jpg", *words)
