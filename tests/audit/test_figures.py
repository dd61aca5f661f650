"""Statistics of photographs against tapes, by hand, by published tables, and by sampling."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from calib.outcome.errors import InputError
from photomeasure.audit.figures import (
    birge_range,
    birge_ratio,
    clopper_pearson,
    en_score,
    figures,
    grouped,
)
from photomeasure.audit.ledger import Pair
from photomeasure.audit.text import rows


def pair(difference_mm: float, *, u_mm: float = 0.6, u_tape_mm: float = 0.8, centre: str = "ball", **more: str) -> Pair:
    """A photograph that reads difference_mm above a tape of 400 mm."""
    height_mm = 400.0 + difference_mm
    return Pair(
        record_file=Path("r.json"), made="2026-11-25", height_mm=height_mm, u_mm=u_mm, U_mm=2 * u_mm,
        interval_mm=(height_mm - 2 * u_mm, height_mm + 2 * u_mm), tape_mm=400.0, u_tape_mm=u_tape_mm, centre=centre,
        camera=more.get("camera", "Yardphone"), rule=more.get("rule", "au-ball-50"),
    )  # fmt: skip


# By hand: differences 2, -1, 1, 3, 0 mm, each with u = sqrt(0.6^2 + 0.8^2) = 1 and U = 2.
# mean 1; s^2 = (1 + 4 + 0 + 4 + 1) / 4 = 2.5; mean square (4 + 1 + 1 + 9 + 0) / 5 = 3.
HAND = [pair(d) for d in (2.0, -1.0, 1.0, 3.0, 0.0)]


def test_a_ledger_worked_by_hand() -> None:
    found = figures(HAND)
    assert found.n == 5
    assert found.bias_mm == pytest.approx(1.0)
    assert found.rms_mm == pytest.approx(math.sqrt(3.0))
    assert found.agreeing == 4  # En = d / 2: 1.0, -0.5, 0.5, 1.5, 0; ISO 13528: |En| <= 1 agrees
    assert figures([*HAND, pair(2.1)]).agreeing == 4  # En 1.05
    assert found.inside == 3  # |d| <= 1.2: -1, 1, 0
    assert found.birge == pytest.approx(math.sqrt(10.0 / 4.0))  # sum of squares about the mean 10, over n - 1
    assert found.expected_share == pytest.approx(2.0 * NormalDist().cdf(1.2) - 1.0)  # 0.7699 in tables


def test_uncertainty_of_the_bias_by_hand() -> None:
    """s / sqrt(5) = 0.7071 and the class II limit from the hook up to 1 m, 0.7 mm (2014/32/EU MI-008), as a rectangle:
    u^2 = 0.5 + 0.49 / 3; nu_eff = u^4 / (0.25 / 4) = 7.04; t = 2.36 for 95 % and 7 (JCGM 100:2008 table G.2)."""
    found = figures(HAND)
    assert found.u_bias_mm == pytest.approx(math.sqrt(0.5 + 0.49 / 3.0))
    assert found.U_bias_mm / found.u_bias_mm == pytest.approx(2.36, abs=0.005)
    assert not found.biased


def test_a_bias_is_told_where_so_many_tapes_show_it() -> None:
    assert "none that 5 tapes could show" in rows(figures(HAND))[0][1]
    for mm, which in ((9.0, "9.0 mm high"), (-9.0, "9.0 mm low")):
        shifted = figures([pair(mm + d) for d in (0.1, -0.1, 0.2, -0.2, 0.0)])
        assert shifted.biased and which in rows(shifted)[0][1]


def test_the_tapes_own_class_counts_in_the_bias() -> None:
    """As above with tapes of class III from the hook up to 1 m, 1.3 mm (2014/32/EU MI-008); mixed with three of class II
    they add up as they are: (2 * 1.3 + 3 * 0.7) / 5 = 0.94 mm."""
    coarse = [replace(one, tape_class="III") for one in HAND]
    assert figures(coarse).u_bias_mm == pytest.approx(math.sqrt(0.5 + 1.3**2 / 3.0))
    assert figures(coarse[:2] + HAND[2:]).u_bias_mm == pytest.approx(math.sqrt(0.5 + 0.94**2 / 3.0))


def test_en_is_the_published_formula() -> None:
    """(x - X) / sqrt(U_x^2 + U_ref^2), ISO 13528 (from memory): 3 mm, U 1.2 and 1.6 mm."""
    assert en_score(pair(3.0)) == pytest.approx(3.0 / math.sqrt(1.2**2 + 1.6**2))
    assert en_score(pair(-3.0)) == -en_score(pair(3.0))


def binomial_tail(least: int, n: int, p: float) -> float:
    """P(X >= least), summed out."""
    return math.fsum(math.comb(n, k) * p**k * (1.0 - p) ** (n - k) for k in range(least, n + 1))


@pytest.mark.parametrize(("inside", "n"), [(3, 5), (19, 20), (92, 100), (1, 10), (187, 200)])
def test_clopper_pearson_by_its_definition(inside: int, n: int) -> None:
    """Clopper and Pearson 1934: at the lower end so many or more have probability 0.025, at the upper so many or fewer."""
    low, high = clopper_pearson(inside, n)
    assert binomial_tail(inside, n, low) == pytest.approx(0.025, abs=1e-9)
    assert 1.0 - binomial_tail(inside + 1, n, high) == pytest.approx(0.025, abs=1e-9)


def test_clopper_pearson_at_the_ends() -> None:
    """All or none of n: 0.025^(1/n), closed form; for 10 of 10 tables print 0.6915, for 5 of 5 0.4782 (from memory)."""
    assert clopper_pearson(10, 10) == pytest.approx((0.025**0.1, 1.0))
    assert clopper_pearson(0, 10) == pytest.approx((0.0, 1.0 - 0.025**0.1))
    assert clopper_pearson(10, 10)[0] == pytest.approx(0.6915, abs=5e-5)
    assert clopper_pearson(5, 5)[0] == pytest.approx(0.4782, abs=5e-5)


@pytest.mark.parametrize(("n", "lower", "upper"), [(5, 0.484, 11.143), (11, 3.247, 20.483), (31, 16.791, 46.979)])
def test_birge_range_by_tables_of_chi_square(n: int, lower: float, upper: float) -> None:
    """NIST/SEMATECH e-Handbook, table 1.3.6.7.4, 4, 10 and 30 degrees of freedom (values from memory)."""
    low, high = birge_range(n)
    assert (n - 1) * low**2 == pytest.approx(lower, abs=5e-4)
    assert (n - 1) * high**2 == pytest.approx(upper, abs=5e-4)


def test_birge_ratio_is_about_the_weighted_mean() -> None:
    """By hand: 0 with u 1 and 3 with u 2: weights 1 and 1/4, mean 0.6; (0.6^2 + (2.4 / 2)^2) / 1 = 1.8."""
    assert birge_ratio(np.array([0.0, 3.0]), np.array([1.0, 2.0])) == pytest.approx(math.sqrt(1.8))


def test_honest_differences_fall_into_the_birge_range_95_times_in_100() -> None:
    """By sampling, with uncertainties that differ tenfold; 4000 ledgers leave 0.95 +/- 0.0103 (3 standard deviations)."""
    rng = np.random.default_rng(20261125)
    u = np.geomspace(0.3, 3.0, 9)
    ratios = np.array([birge_ratio(rng.normal(0.7, u), u) for _ in range(4000)])
    low, high = birge_range(len(u))
    assert np.mean((ratios >= low) & (ratios <= high)) == pytest.approx(0.95, abs=0.0103)


def test_an_honest_ledger_shows_no_fault_and_a_dishonest_one_does() -> None:
    rng = np.random.default_rng(4)
    honest = figures([pair(float(d)) for d in rng.normal(0.0, 1.0, 60)])
    assert not (honest.biased or honest.too_narrow or honest.too_wide)
    low = figures([pair(float(d)) for d in rng.normal(-3.0, 1.0, 60)])
    assert low.biased and low.bias_mm < 0.0 and low.too_narrow
    assert figures([pair(float(d)) for d in rng.normal(0.0, 2.5, 60)]).too_narrow
    wide = figures([pair(float(d)) for d in rng.normal(0.0, 0.2, 60)])
    assert wide.too_wide and not wide.too_narrow


def test_groups_of_five_that_are_not_the_whole() -> None:
    pairs = [pair(0.5, centre="ball" if i < 7 else "tag", camera="A" if i < 4 else "B") for i in range(11)]
    found = grouped(pairs)
    assert set(found) == {("centre", "ball"), ("camera", "B")}
    assert found["centre", "ball"].n == 7 and found["camera", "B"].n == 7


def test_four_tapes_are_too_few() -> None:
    with pytest.raises(InputError, match="4 tapes"):
        figures(HAND[:4])
