"""Statistics of photographs against tapes: bias, RMS, En, coverage, Birge ratio, each with what is to be expected of it.

En:             (x - X) / sqrt(U_x^2 + U_ref^2), |En| <= 1 (ISO 13528, ISO/IEC 17043; from memory).
Coverage:       share of tapes inside the photograph's own interval, with the exact binomial interval of C. J. Clopper and
                E. S. Pearson, Biometrika 26 (1934) 404.
Birge ratio:    sqrt(sum(((d - d_w) / u)^2) / (n - 1)) about the weighted mean d_w (R. T. Birge, Phys. Rev. 40 (1932) 207;
                from memory); (n - 1) times its square follows chi-square with n - 1 degrees of freedom where every u is
                right and errors are independent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.audit.ledger import Pair
from photomeasure.record.tape import COVERAGE_FACTOR, class_limit_mm
from photomeasure.uncertainty.coverage import coverage_factor, welch_satterthwaite

MIN_TAPES = (
    5  # with fewer, nothing can be concluded (judgement: the interval of a share of 4 of 4 reaches down to 40 %)
)
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """Of n pairs. Lengths in mm, differences photograph less tape; u_ standard, U_ expanded to 95 %.

    inside: tapes inside the photograph's own interval; true_share: 95 % interval of the share that they stand for;
    expected_share: what it would be if every uncertainty, the tape's too, were right. birge_range: middle 95 %.
    """

    n: int
    bias_mm: float
    u_bias_mm: float
    U_bias_mm: float
    rms_mm: float
    agreeing: int
    inside: int
    true_share: tuple[float, float]
    expected_share: float
    birge: float
    birge_range: tuple[float, float]

    @property
    def biased(self) -> bool:
        """Whether the mean difference is more than its expanded uncertainty."""
        return abs(self.bias_mm) > self.U_bias_mm

    @property
    def too_narrow(self) -> bool:
        """Whether the intervals promise more than they hold."""
        return self.birge > self.birge_range[1] or self.expected_share > self.true_share[1]

    @property
    def too_wide(self) -> bool:
        """Whether the intervals hold more than they promise."""
        return self.birge < self.birge_range[0] or self.expected_share < self.true_share[0]


def difference_mm(pair: Pair) -> float:
    """Photograph less tape."""
    return pair.height_mm - pair.tape_mm


def together_u_mm(pair: Pair) -> float:
    """Standard uncertainty of the difference."""
    return math.hypot(pair.u_mm, pair.u_tape_mm)


def en_score(pair: Pair) -> float:
    """En with the record's U and the tape's (k = 2)."""
    return difference_mm(pair) / math.hypot(pair.U_mm, COVERAGE_FACTOR * pair.u_tape_mm)


def is_inside(pair: Pair) -> bool:
    """Whether the tape's reading lies in the photograph's own interval, ends included."""
    return pair.interval_mm[0] <= pair.tape_mm <= pair.interval_mm[1]


def figures(pairs: Sequence[Pair]) -> Figures:
    """All of them; InputError for fewer than `MIN_TAPES` pairs."""
    n = len(pairs)
    if n < MIN_TAPES:
        raise InputError(
            said("There are {n} tapes.", n=n),
            expected=said("{min_tapes} or more", min_tapes=MIN_TAPES),
            remedy=said("tape more of the rigs photographed"),
        )
    d = np.array([difference_mm(pair) for pair in pairs])  # (n,)
    u = np.array([together_u_mm(pair) for pair in pairs])  # (n,)
    u_bias, U_bias = _bias_u_mm(d, np.array([class_limit_mm(pair.tape_mm, pair.tape_class) for pair in pairs]))
    inside = sum(is_inside(pair) for pair in pairs)
    return Figures(
        n=n,
        bias_mm=float(d.mean()),
        u_bias_mm=u_bias,
        U_bias_mm=U_bias,
        rms_mm=float(np.sqrt(np.mean(d**2))),
        agreeing=sum(abs(en_score(pair)) <= 1.0 for pair in pairs),
        inside=inside,
        true_share=clopper_pearson(inside, n),
        expected_share=float(np.mean([_expected_inside(pair) for pair in pairs])),
        birge=birge_ratio(d, u),
        birge_range=birge_range(n),
    )


def _bias_u_mm(d: NDArray[np.float64], limits_mm: NDArray[np.float64]) -> tuple[float, float]:
    """u and U of the mean difference: the scatter over sqrt(n), and the tapes' class limits (n,), as of one tape: a tape
    that is long is long at every reading, so that they add up as they are (JCGM 100:2008 5.2.2,
    note 1, from memory).

    What all photographs share (print, camera, habit) needs no place here: it is what the bias shows.
    """
    n = len(d)
    scatter = float(d.std(ddof=1)) / math.sqrt(n)
    shared = float(limits_mm.mean()) / math.sqrt(3.0)
    u = math.hypot(scatter, shared)
    dof = welch_satterthwaite(u, [scatter, shared], [n - 1, math.inf])
    return u, coverage_factor(CONFIDENCE, dof) * u


def clopper_pearson(inside: int, n: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Exact two-sided interval of a share of which `inside` of n were seen."""
    from scipy.stats import binomtest

    found = binomtest(inside, n).proportion_ci(confidence_level=confidence, method="exact")
    return float(found.low), float(found.high)


def birge_ratio(d: NDArray[np.float64], u: NDArray[np.float64]) -> float:
    """d (n,) with standard uncertainties u (n,), both in the same unit."""
    weights = 1.0 / u**2
    mean = float(weights @ d) / float(weights.sum())
    return float(np.sqrt(np.sum(((d - mean) / u) ** 2) / (len(d) - 1)))


def birge_range(n: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Middle share of Birge ratios of n honest values."""
    from scipy.stats import chi2

    low, high = (float(chi2.ppf(p, n - 1)) for p in ((1.0 - confidence) / 2, (1.0 + confidence) / 2))
    return math.sqrt(low / (n - 1)), math.sqrt(high / (n - 1))


def _expected_inside(pair: Pair) -> float:
    """Probability that the tape's reading falls into the interval, where photograph and tape are as uncertain as stated."""
    spread = NormalDist(pair.height_mm, together_u_mm(pair))
    return spread.cdf(pair.interval_mm[1]) - spread.cdf(pair.interval_mm[0])


GROUPS = ("centre", "camera", "rule")


def grouped(pairs: Sequence[Pair]) -> dict[tuple[str, str], Figures]:
    """Figures by (what, which), for every group of at least `MIN_TAPES` that is not the whole."""
    found: dict[tuple[str, str], Figures] = {}
    for what in GROUPS:
        for which in sorted({getattr(pair, what) for pair in pairs}):
            group = [pair for pair in pairs if getattr(pair, what) == which]
            if MIN_TAPES <= len(group) < len(pairs):
                found[what, which] = figures(group)
    return found
