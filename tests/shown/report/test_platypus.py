"""The layout library is loaded without its slow pattern of web addresses, and works as it does with it."""

from __future__ import annotations

import re
import subprocess
import sys

from reportlab.platypus import paragraph

from photomeasure.shown.report import platypus

ADDRESSES = ("https://example.org/a/b", "mailto:someone", "example.org", "a b", "http://[::1]:80/x?y#z")


def test_a_report_is_loaded_without_that_pattern_and_finds_addresses_when_it_is_asked_to() -> None:
    """In a program of its own: beside the same pattern compiled at once."""
    program = (
        "import re; at_once = re.compile; from photomeasure.shown.report import platypus; "
        "from reportlab.platypus import paragraph; assert re.compile is at_once; late = paragraph.uri_pat; "
        "assert late._made is None, 'compiled at once'; "
        f"print([paragraph._uri_split_pairs(text) for text in {ADDRESSES!r}]); assert late._made.flags & re.I"
    )
    late = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    plain = program.replace("from photomeasure.shown.report import platypus; ", "").partition("assert")[0]
    shown = f"print([paragraph._uri_split_pairs(text) for text in {ADDRESSES!r}])"
    at_once = subprocess.run([sys.executable, "-c", plain + shown], capture_output=True, text=True, check=True)
    assert late.stdout == at_once.stdout and "example.org" in late.stdout


def test_every_other_pattern_is_compiled_as_ever() -> None:
    with platypus._slow_patterns_later():
        assert isinstance(re.compile("a+", re.IGNORECASE), re.Pattern) and isinstance(re.compile(rb"\xa1"), re.Pattern)
        slow = re.compile("[\xa1-\uffff]+", re.IGNORECASE)
    assert not isinstance(slow, re.Pattern) and slow.fullmatch("übermut".upper()[:1])
    assert isinstance(paragraph._scheme_re, re.Pattern)
