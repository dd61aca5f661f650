"""How figures from records go together: two of one print, phone or pair of photographs are not independent.

What two records say of one and the same error (a check bar's reading, a sheet's roll in one photograph) is in both, with what
it does to each figure: their covariance is the sum of the products (JCGM 100:2008 5.2.2, F.1.2.3). Of a pair of photographs
the record itself tells both heights, the sinking and so how they go together.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Any, Literal

Figure = Literal["height", "pitch", "sinking"]
Record = Mapping[str, Any]
LEAST_R = 0.005  # less is not worth a line

_OF_THE_PRINT = (
    "check bar x",
    "check bar y",
    "rule",
    "card",
    "paper humidity",
    "print scale",
    "print scale, x against y",
)
# of a mark or a coupling by itself: two figures of one picture may be of two of them, alike only in what is claimed
_OF_ONE_MARK = ("pick", "mark placement", "tag placement", "depth", "marks on the ground", "marks on the rail")
_OF_THE_PHONE = ("focal length", "distortion")


def correlations(figures: Mapping[str, tuple[Figure, Record]]) -> Iterator[tuple[str, str, float]]:
    """Two names and their coefficient of correlation, for each two figures from records that go together."""
    for one, other in combinations(figures, 2):
        r = _correlation(figures[one], figures[other])
        if abs(r) >= LEAST_R:
            yield one, other, max(-0.999, min(0.999, r))


def _correlation(one: tuple[Figure, Record], other: tuple[Figure, Record]) -> float:
    if {one[0], other[0]} == {"height", "sinking"}:
        height, sinking = (one[1], other[1]) if one[0] == "height" else (other[1], one[1])
        known = _of_a_pair(height, sinking)
        if known is not None:
            return known
    effects = [_effects(*figure) for figure in (one, other)]
    shared = effects[0].keys() & effects[1].keys()
    same_picture = _digests(one[1]) == _digests(other[1])
    kept = [name for name in shared if same_picture or _is_shared(name[0], one[1], other[1])]
    u = [_u(*figure) for figure in (one, other)]
    return sum(effects[0][name] * effects[1][name] for name in kept) / (u[0] * u[1]) if min(u) > 0.0 else 0.0


def _of_a_pair(height: Record, pair: Record) -> float | None:
    """A height with the sinking of the pair that it is a part of: before or after; None where it is of no part of it."""
    own, stand, before = _digests(height), pair.get("stand_test"), pair.get("before")
    if isinstance(stand, dict):
        if own != _digests(pair) or not _known(pair.get("u_mm"), stand.get("u_mm"), stand.get("u_standing_mm")):
            return None
        together = 0.5 * (pair["u_mm"] ** 2 + stand["u_standing_mm"] ** 2 - stand["u_mm"] ** 2)
        return float((pair["u_mm"] ** 2 - together) / (pair["u_mm"] * stand["u_mm"]))
    sink = pair.get("sink")
    if not isinstance(before, dict) or not isinstance(sink, dict):
        return None
    if not _known(pair.get("u_mm"), sink.get("u_mm"), before.get("u_mm")):
        return None
    u_now, u_sinking, u_before = pair["u_mm"], sink["u_mm"], before["u_mm"]
    together = 0.5 * (u_before**2 + u_now**2 - u_sinking**2)  # covariance of both heights
    then = {photo.get("sha256") for photo in pair["photos"] if photo.get("before")}
    if own in (_digests(pair), _digests(pair) - then):
        return float((together - u_now**2) / (u_now * u_sinking))
    carried = (pair.get("asked") or {}).get("carried") or {}
    if own == then or (carried and carried.get("height_mm") == height.get("height_mm")):
        return float((u_before**2 - together) / (u_before * u_sinking))
    return None


def _known(*u_mm: Any) -> bool:
    """Whether these are standard uncertainties that can be divided by."""
    return all(isinstance(u, int | float) and math.isfinite(u) and u > 0.0 for u in u_mm)


def _digests(record: Record) -> frozenset[str]:
    return frozenset(str(photo.get("sha256")) for photo in record.get("photos", []))


def _is_shared(quantity: str, one: Record, other: Record) -> bool:
    """Whether photographs that are not the same share an input quantity: of one print, or of one phone."""
    if quantity in _OF_THE_PRINT:
        number = one.get("print_number")
        return number is not None and number == other.get("print_number")
    cameras = [{photo.get("camera") for photo in record.get("photos", [])} for record in (one, other)]
    return quantity.startswith(_OF_THE_PHONE) and cameras[0] == cameras[1] != {None}


def _effects(figure: Figure, record: Record) -> dict[tuple[str, float, float, str], float]:
    """What each input of a record does to its figure, by all that tells one input from another; nothing for a sinking."""
    if figure == "sinking":
        return {}
    return {
        (row["quantity"], row["value"], row["u"], row["source"]): row["height_u_mm"]
        for row in record.get("inputs", [])
        if row.get("evaluation") == "B" and row["quantity"] not in _OF_ONE_MARK
    }


def _u(figure: Figure, record: Record) -> float:
    """Standard uncertainty of a figure in the unit of its inputs' effects: mm, or hundredths of a degree."""
    found = {
        "height": lambda: record["u_mm"],
        "pitch": lambda: 100.0 * record["u_deg"],
        "sinking": lambda: (record.get("stand_test") or record["sink"])["u_mm"],
    }[figure]()
    return float(found) if math.isfinite(found) else 0.0
