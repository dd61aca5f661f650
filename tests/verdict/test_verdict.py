"""Verdicts against JCGM 106:2012 and ILAC-G8:09/2019, exact at the band's ends, and by laws (hypothesis).

"read" and "memory" say how well the inputs of an example are known; the arithmetic is checked in any case.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from calib.outcome.errors import InputError
from photomeasure.rules import Decision, Rule, default_rule, load_rule, parse_rule
from photomeasure.seen.centre.sightings import Way
from photomeasure.verdict.conformity import measured_height
from photomeasure.verdict.judge import CAUSE_TEXT, State, choose_band, judge, likely_cause, probability_inside
from photomeasure.verdict.measured import state_of, what_was_measured
from tests.sample_requests import sample_request

AU = default_rule("ball-50")
AS_SPOKEN_OF = State(coupled=True, laden=True, level_ground=True)
LOW, HIGH = 350.0, 460.0

heights = st.floats(100.0, 900.0)
spreads = st.floats(0.01, 80.0)


def own_rule(low_mm: float | None, high_mm: float | None) -> Rule:
    given_ends = {"low_mm": low_mm, "high_mm": high_mm}
    ends = "".join(f"{key} = {value}\n" for key, value in given_ends.items() if value is not None)
    return parse_rule(
        'schema = "photomeasure/rule/1"\nname = "own"\ntitle = "t"\njurisdiction = "j"\n'
        'couplings = ["ball-50"]\n'
        'source = "s"\nedition = "not stated"\nconfidence = "common-practice"\n[[bands]]\n' + ends,
        "own.toml",
    )


# Phi((460 - h)/u) - Phi((350 - h)/u), tabulated to four digits (computed outside this program)
@pytest.mark.parametrize(
    ("height_mm", "u_mm", "p"),
    [
        (452, 4, 0.9772),
        (455, 4, 0.8944),
        (460, 4, 0.5000),
        (465, 4, 0.1056),
        (340, 4, 0.0062),
        (455, 10, 0.6915),
        (475, 10, 0.0668),
        (480, 10, 0.0228),
    ],
)
def test_probability_table(height_mm: float, u_mm: float, p: float) -> None:
    assert probability_inside(height_mm, u_mm, LOW, HIGH) == pytest.approx(p, abs=0.5e-4)


def test_published_examples_of_conformity() -> None:
    # JCGM 106:2012, Zener voltage -5.47 V, u 0.05, at most -5.40: 0.92 (inputs from memory); shifted by 10 V
    assert probability_inside(10 - 5.47, 0.05, None, 10 - 5.40) == pytest.approx(0.92, abs=0.005)
    # JCGM 106:2012, oil 13.6, u 1.8, 12.5 to 16.3: 0.66 (inputs from memory)
    assert probability_inside(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.66, abs=0.005)
    # JCGM 106:2012, resistors N(1500, 0.12), tolerance 0.20: 0.9044 conforming (inputs read, output computed)
    assert probability_inside(1500.0, 0.12, 1499.8, 1500.2) == pytest.approx(0.9044, abs=0.5e-4)


def test_resistor_risks_of_jcgm_106() -> None:
    """Consumer's 0.00988, producer's 0.0690, from p at every reading (inputs read, output computed)."""
    prior, u_m = 0.12, 0.04
    reading = stats.norm(1500.0, math.hypot(prior, u_m))
    weight = prior**2 / (prior**2 + u_m**2)
    u_after = math.sqrt(weight) * u_m

    def p(y: float) -> float:
        return probability_inside(1500.0 + weight * (y - 1500.0), u_after, 1499.8, 1500.2)

    consumer, _ = integrate.quad(lambda y: (1.0 - p(y)) * reading.pdf(y), 1499.82, 1500.18)
    producer, _ = integrate.quad(lambda y: p(y) * reading.pdf(y), 1500.18, 1501.0)
    assert consumer == pytest.approx(0.00988, abs=0.5e-5)
    assert 2.0 * producer == pytest.approx(0.0690, abs=0.5e-4)


# ILAC-G8:09/2019, guard band w = r U, U = 2 u: false acceptance at the acceptance limit (computed)
@pytest.mark.parametrize(("r", "risk", "tol"), [(1.5, 0.00135, 5e-6), (1, 0.02275, 5e-6), (0.83, 0.0485, 5e-5)])
def test_risk_at_the_acceptance_limit(r: float, risk: float, tol: float) -> None:
    decision = Decision(kind="guarded", guard_factor=r)
    verdict = judge(400, 4, AU, AS_SPOKEN_OF, "ball-50", decision=decision)
    assert verdict.acceptance_mm is not None and verdict.acceptance_mm[1] is not None
    assert verdict.guard_band_mm == pytest.approx(r * 8.0)
    assert 1.0 - probability_inside(verdict.acceptance_mm[1], 4, LOW, HIGH) == pytest.approx(risk, abs=tol)


def test_simple_acceptance_risks_half_at_the_end() -> None:
    verdict = judge(460, 4, AU, AS_SPOKEN_OF, "ball-50", decision=Decision(kind="simple"))
    assert verdict.verdict == "within"
    assert verdict.p_inside == pytest.approx(0.5)


# one-sided z of the standard normal distribution (any table): the acceptance limit lies z u inside the end
@pytest.mark.parametrize(
    ("p", "z"), [(0.80, 0.84162), (0.90, 1.28155), (0.95, 1.64485), (0.99, 2.32635), (0.999, 3.09023)]
)
def test_stated_risk_puts_the_limit_where_the_table_says(p: float, z: float) -> None:
    decision = Decision(kind="max-false-acceptance", max_false_acceptance=1.0 - p)
    verdict = judge(400, 4, AU, AS_SPOKEN_OF, "ball-50", decision=decision)
    assert verdict.acceptance_mm == pytest.approx((LOW + 4 * z, HIGH - 4 * z), abs=4 * 0.5e-5)
    assert verdict.guard_band_mm == pytest.approx(4 * z, abs=4 * 0.5e-5)


@pytest.mark.parametrize(
    ("height_mm", "u_mm", "verdict"),
    [
        (460.0, 0.0, "within"),
        (350.0, 0.0, "within"),
        (math.nextafter(460.0, 500.0), 0.0, "above"),
        (math.nextafter(350.0, 0.0), 0.0, "below"),
        (452.0, 4.0, "within"),  # guarded zone for u = 4, w = U: 358 to 452 (computed)
        (358.0, 4.0, "within"),
        (math.nextafter(452.0, 500.0), 4.0, "undecided"),
        (math.nextafter(358.0, 0.0), 4.0, "undecided"),
        (468.0, 4.0, "undecided"),
        (math.nextafter(468.0, 500.0), 4.0, "above"),
        (342.0, 4.0, "undecided"),
        (math.nextafter(342.0, 0.0), 4.0, "below"),
        (440.0, 10.0, "within"),  # and for u = 10: 370 to 440 (computed)
        (370.0, 10.0, "within"),
    ],
)
def test_guarded_verdict_at_the_ends(height_mm: float, u_mm: float, verdict: str) -> None:
    assert judge(height_mm, u_mm, AU, AS_SPOKEN_OF, "ball-50").verdict == verdict


@pytest.mark.parametrize("u_mm", [0.0, 4.0])
@pytest.mark.parametrize("kind", ["simple", "max-false-acceptance"])
def test_other_decisions_at_the_ends(kind: str, u_mm: float) -> None:
    decision = Decision.model_validate({"kind": kind})

    def verdict(height_mm: float) -> str:
        return judge(height_mm, u_mm, AU, AS_SPOKEN_OF, "ball-50", decision=decision).verdict

    at_end = "within" if kind == "simple" or u_mm == 0.0 else "undecided"
    assert verdict(460.0) == verdict(350.0) == at_end
    assert (verdict(480.0), verdict(330.0), verdict(405.0)) == ("above", "below", "within")


def test_own_interval_sets_the_guards_of_each_side() -> None:
    verdict = judge(450, 4, AU, AS_SPOKEN_OF, "ball-50", interval_mm=(444, 461))
    assert verdict.verdict == "undecided"
    assert verdict.acceptance_mm == (356, 449)
    assert judge(449, 4, AU, AS_SPOKEN_OF, "ball-50", interval_mm=(443, 460)).verdict == "within"


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0, -math.inf])
def test_wrong_numbers_are_rejected(bad: float) -> None:
    for call in (
        lambda: probability_inside(bad, 1, LOW, HIGH),
        lambda: probability_inside(400, bad, LOW, HIGH),
        lambda: probability_inside(400, 1, bad, HIGH),
        lambda: probability_inside(400, 1, LOW, bad),
        lambda: judge(bad, 1, AU, AS_SPOKEN_OF, "ball-50"),
        lambda: judge(400, bad, AU, AS_SPOKEN_OF, "ball-50"),
        lambda: judge(400, 1, AU, AS_SPOKEN_OF, "ball-50", confidence=bad),
        lambda: likely_cause(400, 1, bad, 1, AU.bands[0]),
    ):
        with pytest.raises(InputError):
            call()
    with pytest.raises(InputError):
        probability_inside(400, 1, HIGH, LOW)
    for interval_mm in ((math.nan, 410.0), (390.0, math.inf), (401.0, 410.0), (410.0, 390.0)):
        with pytest.raises(InputError, match="does not hold"):
            judge(400, 1, AU, AS_SPOKEN_OF, "ball-50", interval_mm=interval_mm)
    with pytest.raises(InputError, match="not a number"):
        judge(400, 1, AU, AS_SPOKEN_OF, "ball-50", samples_mm=np.append(np.full(2000, 400.0), math.nan))


def test_state_of_the_rule_and_of_the_photograph() -> None:
    as_spoken_of = judge(405, 4, AU, AS_SPOKEN_OF, "ball-50")
    assert not as_spoken_of.indicative and as_spoken_of.indicative_why == ()
    unsaid = judge(405, 4, AU, State(), "ball-50")
    assert unsaid.indicative and unsaid.verdict == "within"
    assert len(unsaid.indicative_why) == len(unsaid.indicative_remedy) == 3
    other = judge(405, 4, AU, State(coupled=False, laden=True, level_ground=True), "ball-50")
    assert other.indicative and "not connected" in other.indicative_why[0]
    assert "connect the trailer" in other.indicative_remedy[0]
    assert other.sentence.startswith("Indicative only")


def test_no_drop_is_chosen_from_another_state() -> None:
    """An unladen ball at 498 mm without its trailer: coupled and laden it sits somewhere else."""
    bare = judge(498, 0.6, AU, State(coupled=False, laden=False, level_ground=True), "ball-50")
    assert bare.adjustment is not None and not bare.adjustment.possible
    assert (bare.adjustment.least_down_mm, bare.adjustment.most_down_mm, bare.adjustment.best_down_mm) == (None,) * 3
    said = " ".join(bare.advice)
    assert "No drop or rise can be chosen" in said and "ball load" in said and "with the trailer connected" in said
    assert "Lower" not in said and "best" not in said and "Nothing to change" not in said
    unsaid = judge(405, 0.6, AU, State(level_ground=True), "ball-50")
    assert unsaid.adjustment is not None and not unsaid.adjustment.possible
    assert "before it is known whether the trailer is connected and whether the rig is laden" in unsaid.advice[0]


@settings(deadline=None)  # whatever else the machine does
@given(heights, st.sampled_from([None, False]), st.sampled_from([None, True, False]))
def test_nothing_indicative_is_called_best_or_fine(height_mm: float, ground: bool | None, laden: bool | None) -> None:
    verdict = judge(height_mm, 2.0, AU, State(coupled=True, laden=laden, level_ground=ground), "ball-50")
    assert verdict.indicative
    assert not any(word in line for line in verdict.advice for word in ("best", "Nothing to change"))


def test_a_height_counts_above_level_ground_by_any_rule() -> None:
    """Also by a rule that says nothing of the ground."""
    dk, laden = load_rule("dk"), State(laden=True)
    assert not judge(385, 2, dk, replace(laden, level_ground=True), "ball-50").indicative
    for ground in (None, False):
        verdict = judge(385, 2, dk, replace(laden, level_ground=ground), "ball-50")
        assert verdict.indicative and "level ground" in verdict.indicative_why[0]
        assert verdict.adjustment is not None and verdict.adjustment.possible  # the interval has the ground in it


def test_what_was_measured_follows_from_what_was_seen_and_said() -> None:
    assert what_was_measured("ball", False) == "vehicle ball"
    assert what_was_measured("tag", False) == what_was_measured("tag", None) == "coupling head"
    assert what_was_measured("tag", True) is what_was_measured("pick", False) is None


@pytest.mark.parametrize(
    ("rule", "coupled", "source", "indicative"),
    [
        ("dk", False, "tag", True),  # an uncoupled head is not the vehicle's ball
        ("dk", None, "tag", True),
        ("dk", True, "tag", False),
        ("dk", False, "ball", False),
        ("dk", False, "pick", False),  # the ball is what a person is asked to mark
        ("uk-trailer-head", False, "tag", False),
        ("uk-trailer-head", None, "tag", False),  # connected or not, the tag is on the head
        ("uk-trailer-head", True, "tag", False),
        ("uk-trailer-head", False, "ball", True),
        ("uk-trailer-head", False, "pick", True),
        ("uk-trailer-head", True, "pick", False),
    ],
)
def test_the_rule_must_be_for_what_was_measured(rule: str, coupled: bool | None, source: Way, indicative: bool) -> None:
    state = State(coupled=coupled, laden=True, level_ground=True)
    verdict = judge(405, 2, load_rule(rule), state, "ball-50", what=what_was_measured(source, coupled))
    assert verdict.indicative is indicative
    assert verdict.adjustment is not None and verdict.adjustment.possible is not indicative


def test_ground_that_a_level_was_read_on_is_known() -> None:
    def ground(**said: object) -> bool | None:
        return state_of(replace(sample_request(), state=State(), **said)).level_ground  # type: ignore[arg-type]

    assert ground() is None
    assert ground(level_within_mm_per_m=5.0) is True
    assert ground(level_within_mm_per_m=30.0) is None  # that is a slope


def test_danish_bands_are_chosen_by_state_alone() -> None:
    dk = load_rule("dk")

    def ends(state: State) -> tuple[float | None, float | None, bool]:
        band = choose_band(dk, state)
        assert band is not None
        return band.low_mm, band.high_mm, judge(430, 2, dk, state, "ball-50").indicative

    # Detailforskrifter for køretøjer 9.05.310 (1), read as a verbatim quotation
    assert ends(State(laden=True, level_ground=True)) == (350, 420, False)
    assert ends(State(laden=False, level_control=False, level_ground=True)) == (400, 500, False)
    assert ends(State(laden=False, level_control=True, level_ground=True)) == (350, 450, False)
    assert ends(State(laden=False, level_ground=True)) == (400, 500, True)  # level control not stated
    assert ends(State()) == (350, 420, True)


def test_no_band() -> None:
    for rule, coupling in ((default_rule("pin"), "pin"), (load_rule("nz"), "ball-50"), (AU, "pin")):
        verdict = judge(405, 4, rule, AS_SPOKEN_OF, coupling)
        assert verdict.verdict == "no-band"
        assert verdict.p_inside is None and verdict.adjustment is None
        assert any("level" in line for line in verdict.advice)


def test_trailer_head_rule_asks_for_the_head() -> None:
    rule, state = load_rule("un-r55-trailer-head"), State(coupled=False, laden=True, level_ground=True)
    assert not judge(430, 4, rule, state, "ball-50", what="coupling head").indicative
    assert judge(430, 4, rule, state, "ball-50", what="vehicle ball").indicative
    shared = State(coupled=True, laden=True, level_ground=True)
    assert not judge(430, 4, rule, shared, "ball-50", what="vehicle ball").indicative


def test_adjustment_of_a_height_above() -> None:
    change = judge(475, 4, AU, AS_SPOKEN_OF, "ball-50").adjustment
    assert change is not None and change.possible
    assert (change.least_down_mm, change.most_down_mm, change.best_down_mm) == (23, 117, 70)
    assert change.room_down_mm is None
    assert change.sentence == "Lower the coupling centre by 23 to 117 mm; 70 mm is best."


def test_adjustment_of_a_height_below() -> None:
    change = judge(340.5, 4, AU, AS_SPOKEN_OF, "ball-50").adjustment
    assert change is not None
    assert (change.least_down_mm, change.most_down_mm) == (-111.5, -17.5)
    # both ends rounded into the range; the middle of the band, 405, is 64.5 mm up
    assert change.sentence == "Raise the coupling centre by 18 to 111 mm; 64 mm is best."


def test_room_of_a_height_inside() -> None:
    change = judge(400, 4, AU, AS_SPOKEN_OF, "ball-50").adjustment
    assert change is not None
    assert (change.room_down_mm, change.room_up_mm) == (42, 52)
    assert "42 mm lower and 52 mm higher" in change.sentence


def test_no_adjustment_when_the_guards_meet() -> None:
    """350 to 460 is 110 wide: with U = 55 one height is left (p 0.954), with more none."""
    just = judge(470, 27.5, AU, AS_SPOKEN_OF, "ball-50")
    assert just.adjustment is not None
    assert (just.adjustment.least_down_mm, just.adjustment.most_down_mm) == (65, 65)
    none = judge(470, 28, AU, AS_SPOKEN_OF, "ball-50")
    assert none.acceptance_mm is None and none.adjustment is not None
    assert not none.adjustment.possible and none.adjustment.least_down_mm is None
    assert none.adjustment.best_down_mm == 65
    assert "No drop or rise" in none.adjustment.sentence


def test_simple_decision_still_advises_at_the_stated_confidence() -> None:
    verdict = judge(459, 4, AU, AS_SPOKEN_OF, "ball-50", decision=Decision(kind="simple"))
    assert verdict.verdict == "within" and verdict.adjustment is not None
    # 95 % one-sided, z 1.64485 (any table): down to 460 - 6.5794
    assert verdict.adjustment.least_down_mm == pytest.approx(459 - (460 - 4 * 1.64485), abs=1e-4)
    assert verdict.advice[0].startswith(
        "Inside by this decision rule as it is; to be inside with 95 % probability: lower"
    )


def test_open_bands() -> None:
    level = State(level_ground=True)
    at_most = judge(440, 4, own_rule(None, 430.0), level, "ball-50")
    assert at_most.acceptance_mm == (None, 422) and at_most.adjustment is not None
    assert (at_most.adjustment.least_down_mm, at_most.adjustment.most_down_mm) == (18, None)
    assert at_most.adjustment.best_down_mm == 18
    at_least = judge(440, 4, own_rule(430.0, None), level, "ball-50")
    assert at_least.acceptance_mm == (438, None) and at_least.adjustment is not None
    assert (at_least.verdict, at_least.adjustment.room_down_mm) == ("within", 2)
    risk = Decision(kind="max-false-acceptance", max_false_acceptance=0.05)
    accepted = judge(440, 4, own_rule(430.0, None), level, "ball-50", decision=risk).acceptance_mm
    assert accepted is not None and accepted[0] == pytest.approx(430 + 4 * 1.64485, abs=1e-4)


def test_draws_agree_with_the_normal_they_came_from() -> None:
    draws = np.random.default_rng(5).normal(453.0, 4.0, 200_000)
    for decision in (Decision(), Decision(kind="max-false-acceptance"), Decision(kind="simple")):
        by_draws = judge(453, 4, AU, AS_SPOKEN_OF, "ball-50", samples_mm=draws, decision=decision)
        normal = judge(453, 4, AU, AS_SPOKEN_OF, "ball-50", decision=decision)
        assert by_draws.p_inside == pytest.approx(normal.p_inside, abs=0.003)  # 4 sqrt(p(1-p)/n) = 0.002
        assert by_draws.acceptance_mm == pytest.approx(normal.acceptance_mm, abs=0.1)
        assert by_draws.verdict == normal.verdict


def test_skewed_draws_guard_the_side_they_reach_to() -> None:
    """Exponential above 440 with mean 6: P(X > 460) = exp(-20/6); a normal one of equal u says 0.0099."""
    draws = 440.0 + np.random.default_rng(6).exponential(6.0, 400_000)
    verdict = judge(446, 6, AU, AS_SPOKEN_OF, "ball-50", samples_mm=draws)
    assert verdict.p_above == pytest.approx(math.exp(-20 / 6), abs=0.0012)
    assert verdict.verdict == "undecided"
    assert verdict.adjustment is not None and verdict.adjustment.least_down_mm is not None
    # 97.725 % of the draws below 460 after the move: 440 - 6 ln(0.02275) - 460
    assert verdict.adjustment.least_down_mm == pytest.approx(440 - 6 * math.log(0.02275) - 460, abs=0.2)


def test_likely_cause() -> None:
    band = AU.bands[0]
    assert likely_cause(500, 4, 420, 4, band) == "vehicle"
    assert likely_cause(420, 4, 500, 4, band) == "trailer"
    assert likely_cause(500, 4, 520, 4, band) == "both"
    assert likely_cause(420, 4, 400, 4, band) == "neither"
    assert likely_cause(458, 4, 500, 4, band) == "unclear"
    assert set(CAUSE_TEXT) == {"vehicle", "trailer", "both", "neither", "unclear"}


@settings(deadline=None)  # whatever else the machine does
@given(heights, spreads)
def test_probabilities_are_probabilities(height_mm: float, u_mm: float) -> None:
    p = measured_height(height_mm, u_mm).probabilities(LOW, HIGH)
    assert all(0.0 <= part <= 1.0 for part in (p.below, p.inside, p.above))
    assert p.below + p.inside + p.above == pytest.approx(1.0, abs=1e-12)
    exact = stats.norm.cdf((HIGH - height_mm) / u_mm) - stats.norm.cdf((LOW - height_mm) / u_mm)
    assert p.inside == pytest.approx(float(exact), abs=1e-12)


@settings(deadline=None)  # whatever else the machine does
@given(heights, spreads, st.floats(-100.0, 500.0))
def test_shift_changes_nothing(height_mm: float, u_mm: float, shift_mm: float) -> None:
    assume(height_mm + shift_mm >= 0.0 and LOW + shift_mm >= 0.0)
    moved = probability_inside(height_mm + shift_mm, u_mm, LOW + shift_mm, HIGH + shift_mm)
    assert moved == pytest.approx(probability_inside(height_mm, u_mm, LOW, HIGH), abs=1e-9)


@settings(deadline=None)  # whatever else the machine does
@given(heights, heights, spreads)
def test_further_out_is_never_more_probable(one_mm: float, other_mm: float, u_mm: float) -> None:
    near, far = sorted((one_mm, other_mm), key=lambda height: abs(height - 405.0))
    p_near, p_far = (probability_inside(height, u_mm, LOW, HIGH) for height in (near, far))
    assert p_near >= p_far - 1e-12


@settings(deadline=None)  # whatever else the machine does
@given(heights, spreads, st.sampled_from(["simple", "guarded", "max-false-acceptance"]))
def test_after_the_advised_move_the_verdict_is_within(height_mm: float, u_mm: float, kind: str) -> None:
    decision = Decision.model_validate({"kind": kind})
    first = judge(height_mm, u_mm, AU, AS_SPOKEN_OF, "ball-50", decision=decision)
    change = first.adjustment
    assert change is not None
    if not change.possible:
        # nowhere accepted with 95 %: not in the middle of the band either, where p is greatest
        middle = judge(405.0, u_mm, AU, AS_SPOKEN_OF, "ball-50", decision=decision)
        assert middle.verdict != "within" or middle.p_inside is None or middle.p_inside < 0.95
        return
    assert change.least_down_mm is not None and change.best_down_mm is not None and change.most_down_mm is not None
    inset = 1e-7 * min(1.0, change.most_down_mm - change.least_down_mm)
    for down in (change.least_down_mm + inset, change.best_down_mm, change.most_down_mm - inset):
        after = judge(height_mm - down, u_mm, AU, AS_SPOKEN_OF, "ball-50", decision=decision)
        assert after.verdict == "within"
        assert after.p_inside is not None and after.p_inside >= 0.95 - 1e-9
    outside = judge(height_mm - change.least_down_mm + 0.01, u_mm, AU, AS_SPOKEN_OF, "ball-50", decision=decision)
    assert outside.verdict != "within" or (outside.p_inside is not None and outside.p_inside < 0.95)


@settings(deadline=None)  # whatever else the machine does
@given(heights, spreads)
def test_guarded_within_means_the_whole_interval_is_inside(height_mm: float, u_mm: float) -> None:
    verdict = judge(height_mm, u_mm, AU, AS_SPOKEN_OF, "ball-50").verdict
    low, high = height_mm - 2 * u_mm, height_mm + 2 * u_mm
    assume(min(abs(low - LOW), abs(high - HIGH), abs(low - HIGH), abs(high - LOW)) > 1e-9)
    expected = "above" if low > HIGH else "below" if high < LOW else "undecided"
    assert verdict == ("within" if low >= LOW and high <= HIGH else expected)


@pytest.mark.parametrize("confidence", [0.5, 1.0, 1.05, -0.1, float("nan")])
def test_a_confidence_that_is_none_is_wrong_usage(confidence: float) -> None:
    """At 1 the distribution's tails would never be held; at 0.5 there is nothing to be sure of."""
    with pytest.raises(InputError, match="confidence"):
        judge(405.0, 4.0, AU, AS_SPOKEN_OF, "ball-50", confidence=confidence)


@pytest.mark.parametrize(("low_mm", "high_mm"), [(LOW, None), (None, HIGH), (LOW, HIGH)])
def test_a_height_that_is_known_exactly_is_on_one_side(low_mm: float | None, high_mm: float | None) -> None:
    """Probabilities are 0 and 1, and add up, with either end open."""
    for height_mm in (300.0, 400.0, 500.0):
        found = judge(height_mm, 0.0, own_rule(low_mm, high_mm), AS_SPOKEN_OF, "ball-50")
        below, above = low_mm is not None and height_mm < low_mm, high_mm is not None and height_mm > high_mm
        assert (found.p_below, found.p_above) == (float(below), float(above))
        assert found.p_inside == float(not below and not above)


@pytest.mark.parametrize(
    ("low_mm", "high_mm", "height_mm", "way"),
    [(LOW, None, 330.0, "Raise"), (None, HIGH, 480.0, "Lower"), (LOW, None, 400.0, "any amount higher")],
)
def test_a_band_with_one_end_says_which_way(
    low_mm: float | None, high_mm: float | None, height_mm: float, way: str
) -> None:
    """And no further than its own end asks: a move into the middle of an open band has no meaning."""
    found = judge(height_mm, 2.0, own_rule(low_mm, high_mm), AS_SPOKEN_OF, "ball-50")
    assert found.adjustment is not None and way in found.adjustment.sentence
    assert found.adjustment.best_down_mm is not None
    move = abs(found.adjustment.best_down_mm)
    assert move == 0.0 if "any" in way else 20.0 <= move <= 20.0 + 4.0 * 2.0
