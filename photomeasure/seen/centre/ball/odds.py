"""The odds that something round is the ball, from everything that was measured about it.

A few small networks of one hidden layer, fitted to the candidates of drawn scenes and of path-traced tow bars
(tests/experiments/ball_evidence.py); their answers are averaged. A circle whose centre is off by more than a twelfth of
the radius counted as wrong there. They decide only whether the program takes a ball or asks: the centre itself is the
outline's.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from photomeasure.seen.centre.ball.circle import Circle, usual_px
from photomeasure.seen.centre.ball.fit import Outline, arc_deg, centre_u_px
from photomeasure.seen.centre.ball.neck import Neck
from photomeasure.seen.centre.ball.sphere import Array

MIN_ARC_DEG = 110.0  # below it the centre is off by more than it says (drawn scenes)
MAX_CENTRE_U_PX = 0.6
MIN_BEYOND_CHANCE = 0.05
MAX_SIZE = 4.0  # usual sizes off: no ball of the diameter that was said
PLAIN_NECK = 0.4
MOST_LIKELY = 15.0  # of the likeness's logarithm, either way: the network is not that sure
FAR = 4.0  # standard deviations of an item beyond which it says no more


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """M networks of H hidden units over n items of evidence.

    names (n,): the items in order; middle, spread (n,): of each among the candidates that taught; hidden (M, n, H),
    hidden_offset (M, H), out (M, H), out_offset (M,).
    """

    names: tuple[str, ...]
    middle: Array
    spread: Array
    hidden: Array
    hidden_offset: Array
    out: Array
    out_offset: Array

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


def evidence(circle: Circle, outline: Outline, neck: Neck) -> dict[str, float]:
    """What the odds are made of; every item is without unit and of the order of one, unless it says so.

    support: share beyond what chance gives; closed, arc: shares; chance: see `Circle`. weak_neck: what the weaker side of
    the neck lacks to be plain; above, foot: see `ball_neck`. size: square of the shift over the usual one by depth, wear
    and blur. fineness: logarithm of the radius over 20 px, as everything tells more when large. likeness: see
    `ball_template`. centre_u, and the edges' scatter about the circle: in pixels. moved: from the circle that was voted
    for to the fitted one, in tenths of a radius.
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
        "centre_u": centre_u_px(outline),
        "scatter": outline.rms_px,
        "arc": arc_deg(outline) / 270.0,
        "moved": 10.0 * min(moved, 0.2),
        "chance": circle.chance,
    }


def eligible(outline: Outline, items: dict[str, float]) -> bool:
    """Whether a candidate may be taken at all: its outline covers enough, tells the centre, and is of a ball's size."""
    return (
        arc_deg(outline) >= MIN_ARC_DEG
        and items["centre_u"] <= MAX_CENTRE_U_PX
        and items["support"] >= MIN_BEYOND_CHANCE
        and items["size"] <= MAX_SIZE**2
    )


def probability(circle: Circle, outline: Outline, neck: Neck) -> float:
    """That a candidate is the ball; 0 for one that is not eligible."""
    items = evidence(circle, outline, neck)
    if not eligible(outline, items):
        return 0.0
    by = odds()
    logit = float(by.log_odds(np.array([[items[name] for name in by.names]]))[0])
    return float(1.0 / (1.0 + np.exp(-logit)))
