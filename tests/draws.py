"""How many rigs a test of statistics draws: in every run, and where time is no matter."""

from __future__ import annotations

from typing import Any

import pytest


def draws(few: int, many: int) -> list[Any]:
    """Values of a parameter `count`: `few` by themselves, `many` by `pytest -m slow`.

    By n rigs a Birge ratio (root mean square of errors over their u) is known to 1 / sqrt(2 n): 13 % by 30, 6 % by 130. An
    uncertainty that is stated wrongly by a third to a half is told by `few`; what is finer is left to `many`.
    """
    return [few, pytest.param(many, marks=pytest.mark.slow)]


def birge_reach(count: int, least: float) -> float:
    """How far from 1 the Birge ratio of `count` rigs may be: three of its standard errors, and `least` where those are less."""
    return max(least, 3.0 / float((2.0 * count) ** 0.5))
