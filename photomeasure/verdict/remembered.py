"""Where a picture contradicts what was remembered of its print: the print is another one, or was measured wrongly."""

from __future__ import annotations

from collections.abc import Iterable

from calib.words.said import said
from photomeasure.asked.facts import Fact
from photomeasure.solution.contradicted import BAR_QUANTITIES


def of_remembered(facts: Iterable[Fact], causes: Iterable[str], number: int | None) -> tuple[str, ...]:
    """One sentence, or none. causes: quantities that the photographs contradict."""
    remembered = any(fact.source == "remembered" and fact.question.startswith("bar-") for fact in facts)
    if not remembered or number is None or not BAR_QUANTITIES.intersection(causes):
        return ()
    return (
        said(
            "The picture contradicts what is remembered of print {number:06d}: measure its check bars again, "
            "and remember them anew (photomeasure kit remember). Perhaps it is a copy of that print, and "
            "copies are of another size.",
            number=number,
        ),
    )
