"""What a rule is: bands, the state each speaks of, source and decision rule. Rows, not branches."""

from __future__ import annotations

from itertools import combinations
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StrictBool, model_validator

from calib.words.said import joined, said

SCHEMA = "photomeasure/rule/1"

Confidence = Literal["read", "secondary", "inferred", "memory", "computed", "common-practice"]
CONFIDENCE_WORDS: dict[str, str] = {
    "read": said("the words of the text, or a verbatim quotation, were read"),
    "secondary": said("somebody's statement of the text was read, not the text itself"),
    "inferred": said("the text says which other text it follows; the figures are that one's, its own were not read"),
    "memory": said("not found in a readable text"),
    "computed": said("worked out independently"),
    "common-practice": said("common practice of the trade, no source"),
}
CONFIDENCE_LABELS: dict[str, str] = {
    "read": said("read"),
    "secondary": said("secondary"),
    "inferred": said("inferred"),
    "memory": said("memory"),
    "computed": said("computed"),
}
NOT_SURE: frozenset[Confidence] = frozenset({"memory", "inferred"})
"""A verdict by such a rule is never more than indicative."""
What = Literal["vehicle ball", "coupling head"]
WHAT_WORDS: dict[What, str] = {"vehicle ball": said("vehicle ball"), "coupling head": said("coupling head")}
DecisionKind = Literal["simple", "guarded", "max-false-acceptance"]
# Wide enough for any coupling, narrow enough to catch a file written in metres or inches.
Millimetres = Annotated[float, Field(strict=True, ge=50.0, le=3000.0)]
Text = Annotated[str, Field(min_length=1, max_length=1000)]
Key = Annotated[str, Field(pattern=r"^[a-z0-9]+([.-][a-z0-9]+)*$", max_length=60)]

# ILAC-G8:09/2019: w = U leaves a false acceptance of 0.02275 at the acceptance limit (computed)
DEFAULT_GUARD_FACTOR = 1.0
# the round figure that w = U stays under, so that the two decision rules nearly agree for a normal height
DEFAULT_FALSE_ACCEPTANCE = 0.025


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True)


class BandState(_Row):
    """The state that a band speaks of; a field that is left out is one that the rule does not state."""

    what: What = "vehicle ball"
    coupled: StrictBool | None = None
    laden: StrictBool | None = None
    level_ground: StrictBool | None = None
    level_control: StrictBool | None = None

    @property
    def text(self) -> str:
        """The state in words: `vehicle ball, trailer connected, laden, on level ground`."""
        states = (
            (self.coupled, said("trailer connected"), said("trailer not connected")),
            (self.laden, said("laden"), said("unladen")),
            (self.level_ground, said("on level ground"), said("on ground that is not level")),
            (self.level_control, said("vehicle levels itself"), said("vehicle does not level itself")),
        )
        stated = [yes if value else no for value, yes, no in states if value is not None]
        return joined([WHAT_WORDS[self.what], *stated])


def band_text(low_mm: float | None, high_mm: float | None) -> str:
    """Ends in words: `350 to 460 mm`, `up to 460 mm`, `350 mm or more`."""
    if low_mm is None:
        return said("up to {high_mm:g} mm", high_mm=high_mm)
    if high_mm is None:
        return said("{low_mm:g} mm or more", low_mm=low_mm)
    return said("{low_mm:g} to {high_mm:g} mm", low_mm=low_mm, high_mm=high_mm)


class _Ends(_Row):
    """Two ends in mm above the ground, one of which may be left out."""

    low_mm: Millimetres | None = None
    high_mm: Millimetres | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        low_mm, high_mm = self.low_mm, self.high_mm
        if low_mm is None and high_mm is None:
            raise ValueError(said("needs low_mm, high_mm or both; a rule without a band has bands = []"))
        if low_mm is not None and high_mm is not None and low_mm >= high_mm:
            raise ValueError(
                said("low_mm {low_mm:g} must be less than high_mm {high_mm:g}", low_mm=low_mm, high_mm=high_mm)
            )
        return self


class Band(_Ends):
    """Heights in mm above the ground, both ends inside; an end that is left out is open."""

    state: BandState = BandState()
    note: Text | None = None

    @property
    def text(self) -> str:
        """The band in words: `350 to 460 mm`."""
        return band_text(self.low_mm, self.high_mm)


class Contradiction(_Ends):
    """A band that another source gives for the same thing; shown beside the rule, never judged by."""

    source: Text
    confidence: Confidence
    note: Text | None = None

    @property
    def text(self) -> str:
        """The contradiction in words: `385 to 455 mm, says another source (secondary). Not explained.`"""
        label = CONFIDENCE_LABELS.get(self.confidence, self.confidence)
        values = {"band": band_text(self.low_mm, self.high_mm), "source": self.source, "confidence": label}
        if self.note:
            return said("{band}, by {source} ({confidence}). {note}", **values, note=self.note)
        return said("{band}, by {source} ({confidence}).", **values)


class Decision(_Row):
    """How uncertainty enters the decision (JCGM 106:2012; ILAC-G8:09/2019).

    simple                the measured value against the band's ends; up to 50 % risk at an end
    guarded               the band less w = guard_factor * U at each end
    max-false-acceptance  accept while 1 - p(inside) <= max_false_acceptance
    """

    kind: DecisionKind = "guarded"
    guard_factor: Annotated[float, Field(strict=True, ge=0.0, le=5.0)] | None = None
    max_false_acceptance: Annotated[float, Field(strict=True, gt=0.0, lt=0.5)] | None = None

    @model_validator(mode="after")
    def _parameter_fits_kind(self) -> Self:
        if self.guard_factor is not None and self.kind != "guarded":
            raise ValueError(said('guard_factor belongs to kind "guarded", not to "{kind}"', kind=self.kind))
        if self.max_false_acceptance is not None and self.kind != "max-false-acceptance":
            kind = '"max-false-acceptance"'
            raise ValueError(
                said('max_false_acceptance belongs to kind {kind}, not to "{found}"', kind=kind, found=self.kind)
            )
        return self

    @property
    def r(self) -> float:
        """Guard factor r of w = r U: 0 for simple; of no meaning for max-false-acceptance."""
        if self.kind == "simple":
            return 0.0
        return DEFAULT_GUARD_FACTOR if self.guard_factor is None else self.guard_factor

    @property
    def risk(self) -> float:
        """Largest accepted probability of false acceptance (kind max-false-acceptance)."""
        return DEFAULT_FALSE_ACCEPTANCE if self.max_false_acceptance is None else self.max_false_acceptance

    @property
    def number(self) -> float | None:
        """The number that goes with the kind: r of the guard band r U, or the risk; None for simple."""
        return None if self.kind == "simple" else self.r if self.kind == "guarded" else self.risk

    @property
    def text(self) -> str:
        """The decision rule in words, to be printed beside every verdict."""
        if self.kind == "simple":
            return said("simple acceptance, no guard band")
        if self.kind == "guarded":
            return said("guarded acceptance, guard band {r:g} x U at each end", r=self.r)
        return said("at most {percent:g} % probability of false acceptance", percent=100 * self.risk)


class Rule(_Row):
    """One rule of one jurisdiction; `bands` empty means that no band is known to apply."""

    schema_: Literal["photomeasure/rule/1"] = Field(alias="schema")
    name: Key
    title: Text
    jurisdiction: Text
    couplings: Annotated[tuple[Key, ...], Field(min_length=1)]
    bands: tuple[Band, ...]
    source: Text
    edition: Text
    confidence: Confidence
    decision: Decision = Decision()
    contradictions: tuple[Contradiction, ...] = ()
    notes: tuple[Text, ...] = ()

    @model_validator(mode="after")
    def _bands_tell_apart(self) -> Self:
        for (i, one), (j, other) in combinations(enumerate(self.bands, start=1), 2):
            if one.state == other.state:
                raise ValueError(
                    said("bands {i} and {j} speak of the same state: no photograph can choose one", i=i, j=j)
                )
        return self


def rule_schema() -> dict[str, Any]:
    """JSON Schema of a rule file (draft 2020-12), for editors and for checks outside this program."""
    return Rule.model_json_schema(by_alias=True)
