"""Every input quantity that the program knows has plain words, so that no short answer says "foot gap 30 %"."""

from __future__ import annotations

import ast
from pathlib import Path

import photomeasure
from photomeasure.record.input_rows import _NOISE
from photomeasure.record.schema import BudgetRow
from photomeasure.shown.quantities import PLAIN, mostly


def _named_in_priors() -> set[str]:
    """The texts given as `quantity=` in the room that makes the priors, read from its sources."""
    found = set()
    for path in (Path(photomeasure.__file__).parent / "scene").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == "quantity" and isinstance(node.value, ast.Constant):
                found.add(str(node.value.value))
    return found


def test_every_quantity_of_a_height_has_plain_words() -> None:
    level_only = {"trailer's turn", "trailer's distance", "rail's distance"}  # plain already
    named = _named_in_priors()
    assert len(named) > 10 and not (named | _NOISE.keys()) - PLAIN.keys() - level_only


def test_the_largest_shares_are_told_in_order() -> None:
    rows = [BudgetRow(quantity="foot gap", u_mm=1.0, share=0.6), BudgetRow(quantity="odd one", u_mm=0.5, share=0.4)]
    assert mostly(rows, 2) == "how the sheet's foot meets the ground (60 %), odd one (40 %)"
