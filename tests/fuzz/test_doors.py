"""Whatever a file holds: an InputError of readable length, or it is read. By hand with many more: `tests.experiments.fuzz_doors`."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from calib.outcome.errors import InputError
from calib.outcome.plain_text import steers
from tests.fuzz.doors import doors
from tests.fuzz.mutations import NASTY, Change, changed

NAMES = (
    "rule", "setup", "survey", "bay", "list", "profile", "opencv yaml", "opencv xml", "record", "ledger", "settings", "seal",
    "private key", "public key", "print", "picture",
)  # fmt: skip
TAKES_ANY_PATH = frozenset({"ledger", "settings", "print", "picture"})  # these are handed bytes or a folder
LONGEST = 15_000
CHANGES = st.lists(
    st.tuples(
        st.integers(0, 3), st.floats(0.0, 1.0, exclude_max=True), st.integers(1, 60), st.integers(0, len(NASTY) - 1)
    ),
    min_size=1,
    max_size=4,
)


def outcome(name: str, data: bytes, folder: Path) -> str:
    """ "read", or the error's text; anything else is raised."""
    door = doors()[name]
    path = folder / f"file{door.suffix}"
    path.write_bytes(data)
    try:
        door.read(path)
    except InputError as error:
        return str(error)
    return "read"


@pytest.mark.parametrize("name", NAMES)
def test_good_files_are_read(name: str, tmp_path: Path) -> None:
    assert outcome(name, doors()[name].good, tmp_path) == "read"


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(changes=CHANGES)
def test_changed_files_are_read_or_told(name: str, changes: list[Change]) -> None:
    said = after(name, changes)
    assert len(said) < LONGEST
    assert not steers(said)


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(changes=CHANGES)
def test_many_more_changed_files_are_read_or_told(name: str, changes: list[Change]) -> None:
    said = after(name, changes)
    assert len(said) < LONGEST
    assert not steers(said)


def after(name: str, changes: list[Change]) -> str:
    """What comes of a file that was changed so, in one line."""
    with TemporaryDirectory() as folder:
        return outcome(name, changed(doors()[name].good, changes), Path(folder)).replace("\n", "")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("data", [b"", b"\x00" * 100, b"\xff" * 100, *(nasty for nasty in NASTY if len(nasty) > 1000)])
def test_files_that_are_nothing_else(name: str, data: bytes, tmp_path: Path) -> None:
    assert len(outcome(name, data, tmp_path)) < LONGEST


@pytest.mark.parametrize("name", NAMES)
def test_paths_that_are_no_files(name: str, tmp_path: Path) -> None:
    door = doors()[name]
    for path in (
        tmp_path / ("n" * 300 + door.suffix),
        tmp_path / f"a\0b{door.suffix}",
        tmp_path / f"gone{door.suffix}",
    ):
        if name not in TAKES_ANY_PATH:
            with pytest.raises(InputError):
                door.read(path)
