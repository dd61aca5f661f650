"""The layout library, loaded without what no page of ours uses: the reports take its names from here.

At its import it compiles a pattern of addresses in the web, 65 000 letters in six places, which takes a twenty-fifth of a
measurement with its report; only a paragraph that is told to break such addresses reads it. It is compiled when that happens.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

_ANY_LETTER = "\xa1-\uffff"  # a range so large that, letters being told from capitals one by one, it is slow to compile


class _CompiledWhenUsed:
    """A pattern that stands for what `re.compile` makes of it."""

    def __init__(self, pattern: str, flags: int) -> None:
        self._wanted, self._made = (pattern, flags), None

    def __getattr__(self, name: str) -> Any:
        if self._made is None:
            self._made = re.compile(*self._wanted)
        return getattr(self._made, name)


@contextmanager
def _slow_patterns_later() -> Iterator[None]:
    at_once = re.compile

    def compiled(pattern: Any, flags: int = 0) -> Any:
        slow = isinstance(pattern, str) and _ANY_LETTER in pattern and flags & re.IGNORECASE
        return _CompiledWhenUsed(pattern, flags) if slow else at_once(pattern, flags)

    re.compile = compiled  # type: ignore[assignment]
    try:
        yield
    finally:
        re.compile = at_once  # type: ignore[assignment]


with _slow_patterns_later():
    from reportlab.platypus import (
        BaseDocTemplate,
        CondPageBreak,
        Flowable,
        Frame,
        LongTable,
        PageBreak,
        PageTemplate,
        Paragraph,
        Spacer,
        Table,
    )

__all__ = [
    "BaseDocTemplate",
    "CondPageBreak",
    "Flowable",
    "Frame",
    "LongTable",
    "PageBreak",
    "PageTemplate",
    "Paragraph",
    "Spacer",
    "Table",
]
