"""README and guides: every command in them runs as it stands there, what they show is what the program says, links lead somewhere."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from calib.words.language import LANGUAGES, Language, speaking
from calib.words.said import say
from photomeasure.cli import app  # noqa: F401  # every command is known
from photomeasure.guides.texts import GUIDES, guide_text, in_language, title_and_about
from tests.cli.test_look import commands as known_commands
from tests.cli.test_look import run

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
# not run here: installing (what CI does with the README's test command), and servers (tests/web/test_serve.py starts those)
NOT_RUN = re.compile(
    r'pip install "\.\[web\]"|photomeasure serve( --[^#]*)?|python3 -m venv \.venv && \.venv/bin/pip install -q "\.\[test\]" '
    r"&& \.venv/bin/python -m pytest -n auto"
)
_INSTALL = "python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/"
_CODE = re.compile(r"#\s*exit code (\d)\s*$")


def blocks(text: str) -> list[str]:
    """Lines of the shell blocks of a document, in order."""
    return [
        line for block in re.findall(r"```sh\n(.*?)```", text, re.DOTALL) for line in block.splitlines() if line.strip()
    ]


DOCUMENTS = {"README": README, **{name: guide_text(name) for name in GUIDES}}


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Photographs of the kit's sheet through a known camera, as somebody who calibrates has them."""
    from tests.commands.test_command_calibrate import kit_photographs, save

    folder = tmp_path_factory.mktemp("board")
    for number, picture in enumerate(kit_photographs()):
        save(picture, folder / f"sheet{number}.jpg")
    return folder


@pytest.fixture
def copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A fresh copy of what a newcomer has, with no settings, keys and cameras of anybody's own."""
    shutil.copytree(ROOT / "sample_images", tmp_path / "sample_images", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def typed(line: str) -> Iterator[str]:
    """A line's arguments as a shell gives them on: quotes taken off, patterns filled in."""
    for word in shlex.split(line, comments=True):
        yield from sorted(map(str, Path().glob(word))) or [word] if "*" in word else [word]


@pytest.mark.usefixtures("few_draws", "in_this_process")
@pytest.mark.parametrize(
    "name",
    # calibrating costs most; it runs by its own tests (commands/test_command_calibrate.py), and its options are looked up below
    [pytest.param(name, marks=pytest.mark.slow) if name == "cameras" else name for name in DOCUMENTS],
)
def test_every_command_runs_as_it_stands_there(name: str, copy: Path, request: pytest.FixtureRequest) -> None:
    lines = blocks(DOCUMENTS[name])
    assert lines
    if "board/" in DOCUMENTS[name]:
        shutil.copytree(request.getfixturevalue("board"), copy / "board")
    for line in lines:
        bare = line.partition("#")[0].strip()
        if NOT_RUN.fullmatch(bare):
            continue
        program, *arguments = typed(line.removeprefix(_INSTALL))
        if program == "python":
            subprocess.run(
                [sys.executable, *arguments],
                check=True,
                capture_output=True,
                env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])},
            )
            continue
        assert program == "photomeasure", line
        expected = _CODE.search(line)
        code, _, _ = run(*arguments)
        assert code == (int(expected.group(1)) if expected else 0), line


@cache
def help_of(command: str) -> str:
    return run(*command.split(), "--help")[1]


@pytest.mark.parametrize("name", DOCUMENTS)
def test_commands_and_options_that_are_named_in_a_sentence_are_there(name: str) -> None:
    """`photomeasure X --y` between backticks: such a command with such an option."""
    known = {" ".join(command) for command in known_commands()}
    served = [
        line.removeprefix("photomeasure ") for line in blocks(DOCUMENTS[name]) if line.startswith("photomeasure serve")
    ]
    for said in [*re.findall(r"`photomeasure ([^`]+)`", DOCUMENTS[name]), *served]:  # servers are not run here
        words = said.split()
        if words[0] in ("COMMAND", "guide"):
            continue
        command = " ".join(words[:2]) if " ".join(words[:2]) in known else words[0]
        assert command in known, said
        for option in re.findall(r"--[a-z][a-z-]+", said):
            assert option in help_of(command), said


def test_the_readmes_answer_is_the_programs(copy: Path) -> None:
    """But for times and for figures, which may move by a digit: python sample_images/make_shown.py makes it anew."""
    shown = README.partition("<!-- answer -->\n```text\n")[2].partition("\n```")[0]
    line = next(line for line in blocks(README) if "measure" in line)
    _, *arguments = typed(line.removeprefix(_INSTALL))
    said = run(*arguments)[1].partition("\nWritten:")[0].strip()

    def plain(text: str) -> list[str]:
        return [re.sub(r"\d+(\.\d+)?", "#", re.sub(r"computed .*", "computed", line)) for line in text.splitlines()]

    assert plain(shown) == plain(said.replace("+/-", "±"))
    assert "WITHIN THE BAND" in shown.splitlines()[0] and "if" not in shown.splitlines()[0]
    height, U = (float(re.findall(r"[\d.]+", shown.splitlines()[0])[i]) for i in (0, 1))
    assert abs(height - float(re.findall(r"[\d.]+", said)[0])) <= U


def test_readme_keeps_what_others_rely_on() -> None:
    assert README.index("<!-- run command -->") < README.index("<!-- test command -->")
    for part in ("## What it cannot notice", "## Cautions", "certifies nothing", "Ferncombe"):
        assert part in README
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).exists(), target


@pytest.mark.parametrize("language", [language for language in LANGUAGES if language != "en"])
@pytest.mark.parametrize("name", GUIDES)
def test_a_translated_guide_has_all_that_the_english_one_has(language: Language, name: str) -> None:
    """The same commands in the same order, which run above; as many headings, list items, rows and links."""
    with speaking(language):
        told, text = guide_text(name), in_language(name)
    english = guide_text(name)
    if text is None:
        with speaking(language):
            assert say("This guide is there in English only.") in told
        return
    assert blocks(text) == blocks(english)
    for sign in (r"^#+ ", r"^- ", r"^\d\. ", r"^\|", r"\]\("):
        assert len(re.findall(sign, text, re.MULTILINE)) == len(re.findall(sign, english, re.MULTILINE)), sign
    for named in set(re.findall(r"--[a-z][a-z-]+", english)):
        assert text.count(named) == english.count(named), named


@pytest.mark.parametrize("language", [language for language in LANGUAGES if language != "en"])
def test_what_a_customer_and_a_dealer_read_is_translated(language: Language) -> None:
    with speaking(language):
        assert in_language("measuring") and in_language("customers")


def test_guide_lists_prints_and_names_what_there_is() -> None:
    code, listed, _ = run("guide")
    assert code == 0
    for name in GUIDES:
        title, about = title_and_about(name)
        assert f"photomeasure guide {name}" in listed and title in listed and about in listed
        assert run("guide", name)[1] == guide_text(name)
    with pytest.raises(InputError, match="no guide 'laws'") as told:
        run("guide", "laws")
    assert "measuring" in told.value.expected
