"""The band that the planned rig is held against, picked from a rule by the state of the journey."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from calib.outcome.errors import InputError
from calib.words.said import said

if TYPE_CHECKING:
    from photomeasure.rules.model import Band, Rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Where the coupled ball should be, how sure that has to be, and what is odd about asking.

    low_mm, high_mm:  the band, both ends inside; both None where no band is known to apply.
    confidence:       probability that "within", "above" or "below" has to reach.
    indicative:       why the answer is only indicative; empty where it is not.
    """

    rule: str
    title: str
    source: str
    rule_confidence: str
    low_mm: float | None
    high_mm: float | None
    confidence: float
    indicative: str

    @property
    def has_band(self) -> bool:
        """Whether there is a band at all."""
        return self.low_mm is not None or self.high_mm is not None

    @property
    def text(self) -> str:
        """The band in words."""
        if self.low_mm is None and self.high_mm is None:
            return said("no band known to apply")
        if self.low_mm is None:
            return said("up to {high_mm:g} mm", high_mm=self.high_mm)
        if self.high_mm is None:
            return said("{low_mm:g} mm or more", low_mm=self.low_mm)
        return said("{low_mm:g} to {high_mm:g} mm", low_mm=self.low_mm, high_mm=self.high_mm)


def target_of(rule: Rule, *, laden: bool, level_control: bool | None, confidence: float | None) -> Target:
    """Return the target of a rule for a coupled vehicle on level ground in this load state.

    confidence:  None takes what the rule's own decision rule amounts to (guard band r U: Phi(2 r)).
    Raises InputError for a rule that speaks of the trailer's coupling head, and for one whose bands the state
    does not tell apart.
    """
    band, indicative = _band_for(rule, laden, level_control)
    return Target(
        rule=rule.name,
        title=rule.title,
        source=rule.source,
        rule_confidence=rule.confidence,
        low_mm=band.low_mm if band else None,
        high_mm=band.high_mm if band else None,
        confidence=_confidence_of(rule) if confidence is None else confidence,
        indicative=indicative,
    )


def _confidence_of(rule: Rule) -> float:
    """JCGM 106:2012 clause 8: accepting with guard band w = r U, U = 2u, leaves 1 - Phi(2 r) at the limit."""
    if rule.decision.kind == "max-false-acceptance":
        return 1.0 - rule.decision.risk
    return 0.5 * math.erfc(-2.0 * rule.decision.r / math.sqrt(2.0))


def _band_for(rule: Rule, laden: bool, level_control: bool | None) -> tuple[Band | None, str]:
    if not rule.bands:
        return None, ""
    of_ball = [band for band in rule.bands if band.state.what == "vehicle ball" and band.state.coupled is not False]
    if not of_ball:
        raise InputError(
            said("The rule {name} speaks of another thing than a vehicle's coupled ball.", name=rule.name),
            expected=said("a rule with a band for the vehicle's ball"),
            remedy=said('name such a rule under [rule], for example name = "au-ball-50"'),
        )
    fitting = [band for band in of_ball if band.state.laden in (None, laden)]
    told = [band for band in fitting if band.state.level_control in (None, level_control)]
    if len(told) == 1:
        return told[0], ""
    if fitting:
        raise InputError(
            said(
                "The rule {name} has {fitting} bands for this state; the setup does not tell them apart.",
                name=rule.name,
                fitting=len(fitting),
            ),
            expected=said("vehicle.level_control = true or false"),
            remedy=said("say in the setup whether the vehicle's suspension levels itself"),
        )
    if laden:
        return of_ball[0], said("the rule speaks of an unladen vehicle, the setup of a laden one")
    return of_ball[0], said("the rule speaks of a laden vehicle, the setup of an unladen one")
