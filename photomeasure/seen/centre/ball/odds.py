"""The odds that something round is the ball, from everything that was measured about it.

A few small networks of one hidden layer, fitted to the candidates of drawn scenes and of path-traced tow bars
(tests/experiments/ball_evidence.py); their answers are averaged. They decide only whether the program takes a ball or
asks: the centre itself is the outline's. How far off that may be is told by a second, smaller model fitted to the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from photomeasure.seen.centre.ball.circle import Circle, usual_px
from photomeasure.seen.centre.ball.fit import Outline, arc_deg, centre_u_px
from photomeasure.seen.centre.ball.glance import Glance
from photomeasure.seen.centre.ball.neck import Neck
from photomeasure.seen.centre.ball.sphere import Array

MIN_ARC_DEG = 70.0
MAX_CENTRE_U_PX = 0.8
MIN_BEYOND_CHANCE = -0.3
MAX_SIZE = 4.0  # usual sizes off: no ball of the diameter that was said
MAX_DOUBT_RADII = 0.08  # of the centre: 2 mm of a 50 mm ball; what tells it less is shown to a person
PLAIN_NECK = 0.4
MOST_LIKELY = 15.0  # of the likeness's logarithm, either way: the network is not that sure
FAR = 4.0  # standard deviations of an item beyond which it says no more


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """M networks of H hidden units over n items of evidence.

    names (n,): the items in order; middle, spread (n,): of each among the candidates that taught; hidden (M, n, H),
    hidden_offset (M, H), out (M, H), out_offset (M,). doubt (9,): weights of `_signs` in the logarithm of the centre's
    standard uncertainty, in radii.
    """

    names: tuple[str, ...]
    middle: Array
    spread: Array
    hidden: Array
    hidden_offset: Array
    out: Array
    out_offset: Array
    doubt: Array

    def log_odds(self, items: Array) -> Array:
        """(N,) of evidence (N, n)."""
        scaled = np.clip((items - self.middle) / self.spread, -FAR, FAR)
        inner = np.tanh(np.einsum("ni,mih->mnh", scaled, self.hidden) + self.hidden_offset[:, None, :])
        each = np.einsum("mnh,mh->mn", inner, self.out) + self.out_offset[:, None]
        return np.asarray(each.mean(axis=0))


@cache
def odds() -> Odds:
    """What `ball_evidence` has written."""
    with (resources.files("photomeasure.seen.centre.ball") / "odds.npz").open("rb") as file:
        stored = dict(np.load(file, allow_pickle=False))
    names = tuple(str(name) for name in stored.pop("names"))
    return Odds(names=names, **{name: np.asarray(value, dtype=np.float64) for name, value in stored.items()})


@dataclass(frozen=True, slots=True, kw_only=True)
class Closer:
    """A close look (`nets`) at a fitted outline's middle: logarithm of the odds, and how many radii off it sees the centre."""

    odds: float
    aside: float


def closer_looks(glance: Glance, outlines: Sequence[Outline]) -> list[Closer]:
    """At each of the outlines, in their order."""
    if not outlines:
        return []
    odds, aside, _ = glance.looked_at([outline.sight.centre_px for outline in outlines])
    return [Closer(odds=float(one), aside=float(np.hypot(*off))) for one, off in zip(odds, aside, strict=True)]


def evidence(circle: Circle, outline: Outline, neck: Neck, closer: Closer) -> dict[str, float]:
    """What the odds are made of; every item is without unit and of the order of one, unless it says so.

    support: share beyond what chance gives; closed, arc: shares; chance: see `Circle`. weak_neck: what the weaker side of
    the neck lacks to be plain; above, foot: see `Neck`. size: square of the shift over the usual one by depth, wear
    and blur. fineness: logarithm of the radius over 20 px, as everything tells more when large. likeness, close:
    see `nets`; aside: how far off a close look sees the centre, in tenths of a radius. centre_u, and the edges' scatter
    about the circle: in pixels. moved: from the circle that was voted for to the fitted one, in tenths of a radius.
    """
    radius = circle.sight.radius_px
    by_chance = 0.3 + 2.7 / radius  # what textures reach: less by chance on a longer outline (drawn scenes)
    moved = float(np.linalg.norm(outline.sight.centre_px - circle.sight.centre_px)) / outline.sight.radius_px
    return {
        "support": (circle.support - by_chance) / (1.0 - by_chance),
        "weak_neck": max(PLAIN_NECK - min(neck.left, neck.right), 0.0),
        "closed": outline.closed,
        "above": neck.above,
        "foot": neck.foot,
        "size": (outline.shift_px / usual_px(radius)) ** 2,
        "fineness": float(np.log(radius / 20.0)),
        "likeness": float(np.clip(circle.likeness, -MOST_LIKELY, MOST_LIKELY)),
        "close": float(np.clip(closer.odds, -MOST_LIKELY, MOST_LIKELY)),
        "aside": 10.0 * min(closer.aside, 0.4),
        "centre_u": centre_u_px(outline),
        "scatter": outline.rms_px,
        "arc": arc_deg(outline) / 270.0,
        "moved": 10.0 * min(moved, 0.2),
        "chance": circle.chance,
    }


def eligible(items: dict[str, float]) -> bool:
    """Whether a candidate may be the ball at all: its outline covers something, and is of a ball's size."""
    return (
        270.0 * items["arc"] >= MIN_ARC_DEG
        and items["centre_u"] <= MAX_CENTRE_U_PX
        and items["support"] >= MIN_BEYOND_CHANCE
        and items["size"] <= MAX_SIZE**2
    )


def signs(items: dict[str, float]) -> Array:
    """(9,) of what tells how far off a fitted centre may be, about nought for a usual outline."""
    radius = 20.0 * float(np.exp(items["fineness"]))
    return np.array([
        1.0,
        np.log(items["centre_u"] / radius / 0.02),
        np.log(items["scatter"] / radius / 0.015 + 0.1),
        items["arc"] - 0.7,
        items["support"] - 0.4,
        min(items["aside"], 3.0) - 0.8,
        items["chance"] - 0.2,
        min(items["moved"], 1.5) - 0.3,
        np.sqrt(items["size"]) - 1.0,
    ])  # fmt: skip


def doubt_radii(items: dict[str, float]) -> float:
    """Standard uncertainty of a fitted centre along each axis, in radii, from how outlines with such signs were off.

    An outline's own scatter does not tell that it is the wrong one in part: a rim mirrored inside the true one.
    """
    return float(np.exp(signs(items) @ odds().doubt))


def probability(items: dict[str, float]) -> float:
    """That a candidate is the ball, by its evidence; 0 for one that is not eligible."""
    if not eligible(items):
        return 0.0
    by = odds()
    logit = float(by.log_odds(np.array([[items[name] for name in by.names]]))[0])
    return float(1.0 / (1.0 + np.exp(-logit)))
