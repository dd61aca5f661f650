"""The catalogues as they are looked up: entry for entry what Babel reads in the same files."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from calib.words.language import LOCALE, of_environment
from calib.words.po import read
from tests.words import OTHERS


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("domain", ["photomeasure", "kit"])
def test_every_entry_is_what_babel_reads(language: str, domain: str) -> None:
    path = LOCALE / language / f"{domain}.po"
    known, found = read(path), 0
    for message in read_po(BytesIO(path.read_bytes()), locale=language):
        if not message.id:
            continue
        found += 1
        if isinstance(message.id, str):
            assert known.gettext(message.id) == message.string
        else:
            one, many = message.id
            assert tuple(known.ngettext(one, many, count) for count in (1, 2)) == tuple(message.string or ())
            assert known.ngettext(one, many, 0) == known.ngettext(one, many, 2)
    assert found > 50


def test_what_is_not_there_is_english(tmp_path: Path) -> None:
    path = tmp_path / "x.po"
    path.write_text('msgid "a"\nmsgstr ""\n\nmsgid "b"\nmsgid_plural ""\n"b\\n"\n"s"\nmsgstr[0] "c"\nmsgstr[1] "d"\n')
    known = read(path)
    assert known.gettext("a") == "a" and known.gettext("never said") == "never said"
    assert [known.ngettext("b", "b\ns", count) for count in (1, 2)] == ["c", "d"]
    assert [known.ngettext("e", "f", count) for count in (1, 2)] == ["e", "f"]


def test_a_language_that_counts_otherwise_is_no_surprise(tmp_path: Path) -> None:
    path = tmp_path / "x.po"
    path.write_text('msgid ""\nmsgstr ""\n"Plural-Forms: nplurals=3; plural=(n==1 ? 0 : 2);\\n"\n')
    with pytest.raises(ValueError, match="plural"):
        read(path)


@pytest.mark.parametrize(
    ("environment", "expected"),
    [
        ({"LANG": "da_DK.UTF-8"}, "da"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, "en"),
        ({"LANG": "en_GB.UTF-8", "LC_MESSAGES": "de_AT"}, "de"),
        ({"LANG": "en_GB.UTF-8", "LANGUAGE": "da:en"}, "da"),
        ({"LANGUAGE": "da"}, "en"),
        ({"LANG": "dav_KE.UTF-8"}, "en"),
        ({"LANG": "sv_SE.UTF-8"}, "en"),
        ({}, "en"),
    ],
)
def test_a_terminals_language_is_looked_up_as_gettext_does(environment: dict[str, str], expected: str) -> None:
    """LC_ALL before LC_MESSAGES before LANG; LANGUAGE before them, unless the locale is C (gettext's manual, 2.3)."""
    assert of_environment(environment) == expected
