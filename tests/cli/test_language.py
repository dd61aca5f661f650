"""The command line in the reader's language: by --language, else photomeasure.toml, else what the terminal asks for."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from calib.words.language import choose
from tests.running import invoked


def told(*arguments: object) -> str:
    result = invoked(*arguments)
    return " ".join((result.stdout + result.stderr).replace("│", " ").split())


@pytest.fixture(autouse=True)
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A folder of work without settings, and a terminal without a language."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    for name in ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.delenv(name, raising=False)
    yield
    choose("en")


def test_help_follows_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "Measure the coupling centre's height" in told("measure", "--help")
    monkeypatch.setenv("LANG", "da_DK.UTF-8")
    danish = told("measure", "--help")
    assert "Mål højden af koblingens midte" in danish and "Er anhængeren koblet til?" in danish
    assert "Measure the coupling" not in danish and "[kræves]" in danish and "Eksempler: photomeasure measure" in danish
    monkeypatch.setenv("LANG", "C.UTF-8")
    assert "Measure the coupling centre's height" in told("measure", "--help")


def test_settings_stand_above_the_terminal_and_what_is_typed_above_both(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LANG", "da_DK.UTF-8")
    Path("photomeasure.toml").write_text('language = "de"\n', encoding="utf-8")
    assert "Die Höhe der Kupplungsmitte messen" in told("measure", "--help")
    assert "Measure the coupling centre's height" in told("measure", "--language", "en", "--help")


def test_rules_and_mistakes_are_told_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LANG", "de_DE.UTF-8")
    rule = told("rules", "dk")
    assert "Dänemark, Personenwagen mit Kugelkupplung" in rule and "Die Grenze selbst gilt für das Auto" in rule
    with pytest.raises(InputError) as wrong:
        told("rules", "nowhere")
    assert "Es gibt keine Regel namens" in wrong.value.told()
    assert "Denmark, passenger car" in told("rules", "dk", "--language", "en")
