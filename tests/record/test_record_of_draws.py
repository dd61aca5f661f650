"""Where the Monte Carlo result takes over, everything that is reported is the draws': figure, interval, factor, verdict.

What makes the verdict doubtful holds for either, as it lies in the photographs and not in how the interval was had.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.interval.montecarlo import MonteCarloCheck
from photomeasure.pipeline import Result, measure
from photomeasure.record.made_from_result import record_of
from photomeasure.uncertainty.first_order_stands import FirstOrderCheck
from photomeasure.uncertainty.montecarlo import MonteCarloResult
from photomeasure.verdict.state_of_band import Difference
from tests.sample_requests import sample_request

DOUBT = Difference(why="The centre was marked on the printed sheet.", remedy="Check the mark.")


@pytest.fixture(scope="module")
def result() -> Result:
    outcome = measure(sample_request())
    assert isinstance(outcome, Result)
    return outcome


def check_about(height_mm: float, u_mm: float, *, apart_mm: float) -> MonteCarloCheck:
    """Normal draws about a height; apart_mm: how far their interval's ends are from the stated ones."""
    draws = np.sort(np.random.default_rng(4).normal(height_mm, u_mm, 4000))
    low, high = (float(np.quantile(draws, p)) for p in (0.02275, 0.97725))
    drawn = MonteCarloResult(
        value=float(draws.mean()), u=float(draws.std(ddof=1)), low=low, high=high, coverage=0.9545,
        draws=len(draws), stable=True, tolerance=0.05, sorted_draws=draws,
    )  # fmt: skip
    agreement = FirstOrderCheck(validated=apart_mm <= 0.05, d_low=apart_mm, d_high=apart_mm, delta=0.05)
    return MonteCarloCheck(draws=drawn, agreement=agreement)


def test_all_that_is_reported_is_of_the_draws(result: Result) -> None:
    """Draws about 459 mm, half of them above the band's end of 460: another verdict than the first order's."""
    check = check_about(459.0, 2.0, apart_mm=5.0)
    record = record_of(result, check=check)
    draws = check.draws
    assert (record.height_mm, record.u_mm, record.interval_mm) == (draws.value, draws.u, (draws.low, draws.high))
    assert record.U_mm == (draws.high - draws.low) / 2.0
    assert record.coverage_factor == pytest.approx(record.U_mm / draws.u)
    assert record.verdict == "undecided" != record_of(result).verdict
    assert record.p_inside == pytest.approx(float(np.mean((draws.sorted_draws >= 350) & (draws.sorted_draws <= 460))))
    assert record.monte_carlo is not None and record.monte_carlo.reported
    assert record.coverage_sentence is not None and "draws" in record.coverage_sentence


def test_draws_that_agree_change_nothing(result: Result) -> None:
    check = check_about(405.0, 3.0, apart_mm=0.04)
    plain, beside, draws = record_of(result), record_of(result, check=check), check.draws
    assert (beside.height_mm, beside.U_mm, beside.verdict) == (plain.height_mm, plain.U_mm, plain.verdict)
    assert (beside.interval_mm, beside.coverage_factor) == (plain.interval_mm, plain.coverage_factor)
    kept = beside.monte_carlo
    assert kept is not None and not kept.reported and "agrees" in kept.sentence
    assert (kept.trials, kept.height_mm, kept.u_mm) == (draws.draws, draws.value, draws.u)
    assert kept.interval_mm == (draws.low, draws.high)  # the draws' own, not the one that is reported


def test_doubts_hold_for_the_draws_too(result: Result) -> None:
    """A verdict that is indicative by the first order is not made sure by drawing."""
    doubtful = replace(result, doubts=(DOUBT,))
    record = record_of(doubtful, check=check_about(400.0, 2.0, apart_mm=5.0))
    assert record.indicative and any(DOUBT.why.rstrip(".") in why for why in record.indicative_why)
    assert any(DOUBT.remedy.rstrip(".") in advice for advice in record.advice)
