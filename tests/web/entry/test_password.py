"""The password: how it is kept, set and asked for."""

from __future__ import annotations

import io
import os
import stat
from functools import partial
from pathlib import Path

import pytest
from argon2 import PasswordHasher
from typer.testing import CliRunner

from calib.outcome.errors import InputError
from photomeasure.cli import app
from photomeasure.web.entry.password import Password, fit, set_password

WORDS = "four horses by the gate"


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes that cost next to nothing, where it is not their cost that is tested."""
    made = partial(PasswordHasher, time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr("photomeasure.web.entry.password.PasswordHasher", made)


def test_guessing_costs_what_argon2_sets(tmp_path: Path) -> None:
    set_password(tmp_path, WORDS)
    assert (
        "$m=65536,t=3,p=4$" in (tmp_path / "password").read_text()
    )  # RFC 9106, section 4: the second recommended choice


@pytest.mark.usefixtures("quick")
def test_it_is_kept_as_a_hash_that_only_this_user_reads(tmp_path: Path) -> None:
    assert Password.kept_in(tmp_path) is None
    set_password(tmp_path, WORDS)
    kept = (tmp_path / "password").read_text()
    assert kept.startswith("$argon2id$") and WORDS not in kept  # RFC 9106: the form for passwords
    assert os.name != "posix" or stat.S_IMODE((tmp_path / "password").stat().st_mode) == 0o600
    password = Password.kept_in(tmp_path)
    assert password is not None and password.right(WORDS)
    for other in ("", "four horses by the gat", WORDS.upper(), WORDS + " ", kept.strip()):
        assert not password.right(other)


@pytest.mark.usefixtures("quick")
def test_a_new_one_holds_at_once(tmp_path: Path) -> None:
    set_password(tmp_path, WORDS)
    password = Password.kept_in(tmp_path)
    assert password is not None
    before = password.edition
    set_password(tmp_path, "nine swallows on a wire")
    assert password.right("nine swallows on a wire") and not password.right(WORDS) and password.edition != before
    (tmp_path / "password").unlink()
    assert not password.right("") and not password.right("nine swallows on a wire")  # nobody comes in by its loss


@pytest.mark.parametrize("typed", ["", "elevensigns", "x" * 201, "with a\nline break", "\x00" * 14])
def test_what_is_no_password(typed: str) -> None:
    with pytest.raises(InputError) as caught:
        fit(typed)
    assert "12 to 200" in caught.value.expected
    assert not typed or typed not in caught.value.what


@pytest.mark.usefixtures("quick")
def test_from_a_file_as_containers_hand_it_in(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text(WORDS + "\nsomething else\n")
    assert Password.read_from(tmp_path / "secret").right(WORDS)
    (tmp_path / "short").write_text("short\n")
    (tmp_path / "binary").write_bytes(b"\xff\xfe\x00" * 20)
    for name in ("short", "binary", "missing"):
        with pytest.raises(InputError):
            Password.read_from(tmp_path / name)


@pytest.mark.usefixtures("quick")
def test_the_command_takes_it_from_a_pipe_and_never_as_an_argument(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = tmp_path / "kept"
    monkeypatch.setattr("sys.stdin", io.StringIO(WORDS + "\n"))
    result = CliRunner().invoke(app, ["serve", "--store", str(store), "--set-password"], input=WORDS + "\n")
    assert result.exit_code == 0 and WORDS not in result.output
    password = Password.kept_in(store)
    assert password is not None and password.right(WORDS)
    again = CliRunner().invoke(app, ["serve", "--store", str(store), "--set-password", WORDS])
    assert again.exit_code == 2  # an argument would be seen by everybody on the machine
    nowhere = CliRunner().invoke(app, ["serve", "--set-password"], input=WORDS + "\n")
    assert isinstance(nowhere.exception, InputError) and "--store" in nowhere.exception.remedy
