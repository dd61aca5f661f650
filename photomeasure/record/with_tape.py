"""A tape's reading kept beside the photograph's figure, judged by the same rule, and compared with it.

Where the two contradict each other nothing counts until that is settled: the record becomes indicative, its advice is
withdrawn (kept in `tape.withdrawn`, so that another reading can bring it back), and what to repeat comes first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.asked.request import BALL_DIAMETER_MM
from photomeasure.asked.tape_said import TO_WORDS, TapeSaid
from photomeasure.record.request_kept import judged_by
from photomeasure.record.schema import Record, TapePart, TogetherPart, VerdictWord, WithdrawnPart
from photomeasure.record.tape import COVERAGE_FACTOR, TapeReading, combine, compare, read_tape
from photomeasure.record.tape_contradicts import advice_of, sentence_of
from photomeasure.scene.priors import TAG_PLACEMENT_MM
from photomeasure.verdict.judge import judge
from photomeasure.verdict.measured import state_that_counts, what_was_measured


def with_tape(record: Record, stated: TapeSaid) -> Record:
    """The record with a tape's reading in it, in place of an earlier one; a refused record keeps it with no figure to compare.

    Raises InputError for a reading that this rig cannot have been taped to.
    """
    base = without_tape(record)
    tape = _read(base, stated)
    judged = _judged(base, tape.height_mm, tape.u_mm)
    part = TapePart(
        reading_mm=stated.reading_mm,
        from_=stated.to,
        flat_mm=stated.flat_mm,
        tape_class=stated.tape_class,
        height_mm=tape.height_mm,
        u_mm=tape.u_mm,
        verdict=judged.verdict,
        p_inside=judged.p_inside,
        sentence=said("Kept; there is no photograph's figure to compare with."),
    )
    if base.height_mm is None or base.u_mm is None or base.U_mm is None:
        return base.model_copy(update={"tape": part})
    shared_u = _tag_u_mm(base) if stated.to == "tag" else 0.0
    share = math.sqrt(max(1.0 - (shared_u / base.u_mm) ** 2, 0.0)) if base.u_mm > 0.0 else 1.0
    seen = compare(base.height_mm, share * base.U_mm, tape)
    part = part.model_copy(
        update={
            "difference_mm": seen.difference_mm,
            "En": seen.En,
            "agrees": seen.agree,
            "sentence": seen.sentence,
            "together": _together(base, tape, share * base.u_mm) if seen.agree else None,
        }
    )
    return _settled(base, part)


def without_tape(record: Record) -> Record:
    """The record as it was by the photograph alone."""
    before = None if record.tape is None else record.tape.withdrawn
    update: dict[str, object] = {"tape": None}
    if before is not None:
        update |= {name: getattr(before, name) for name in WithdrawnPart.model_fields}
    return record.model_copy(update=update)


def said_of(tape: TapePart | None) -> TapeSaid | None:
    """The reading as it was stated."""
    if tape is None:
        return None
    return TapeSaid(reading_mm=tape.reading_mm, tape_class=tape.tape_class, to=tape.from_, flat_mm=tape.flat_mm)


def _settled(base: Record, part: TapePart) -> Record:
    """With what holds now: nothing but what to repeat, where the two contradict each other."""
    contrary = {base.verdict, part.verdict} in ({"within", "above"}, {"within", "below"}, {"above", "below"})
    if part.agrees and not contrary:
        return base.model_copy(update={"tape": part})
    withdrawn = WithdrawnPart(
        sentence=base.sentence,
        indicative=base.indicative,
        indicative_why=base.indicative_why,
        advice=base.advice,
        adjustment=base.adjustment,
    )
    sentence = sentence_of(base, part)
    return base.model_copy(
        update={
            "tape": part.model_copy(update={"withdrawn": withdrawn}),
            "sentence": sentence,
            "indicative": True,
            "indicative_why": [sentence, *base.indicative_why],
            "advice": advice_of(base, part),
            "adjustment": None,
        }
    )


def _read(record: Record, stated: TapeSaid) -> TapeReading:
    """The reading as a height of the centre."""
    asked = record.asked
    if stated.to == "top" and (record.state.coupling == "pin" or record.state.coupled):
        why = (
            said("a pin coupling has no ball")
            if record.state.coupling == "pin"
            else said("with the trailer connected it is covered")
        )
        raise InputError(
            said("The tape was said to go to {to_words}, but {why}.", to_words=TO_WORDS["top"], why=why),
            expected=said("a reading to the coupling's middle, or to a centre tag's"),
            remedy=said("say up to what the tape was read"),
        )
    return read_tape(
        stated.reading_mm,
        tape_class=stated.tape_class,
        to=stated.to,
        ball_diameter_mm=BALL_DIAMETER_MM if asked is None else asked.ball_diameter_mm,
        flat_mm=stated.flat_mm,
        placement_u_mm=_tag_u_mm(record) or TAG_PLACEMENT_MM,
    )


def _tag_u_mm(record: Record) -> float:
    """What the tag's placement contributes to the photograph's figure; 0 where it was not by a tag."""
    return next((row.u_mm for row in record.budget if row.quantity == "tag placement"), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Judged:
    verdict: VerdictWord | None = None
    p_inside: float | None = None


def _judged(record: Record, height_mm: float, u_mm: float) -> _Judged:
    """By the photograph's own rule, in the photographed state; nothing where an earlier record did not keep it."""
    if record.asked is None:
        return _Judged()
    asked = record.asked
    rule, stated, decision = judged_by(asked)
    state = state_that_counts(stated, asked.level_within_mm_per_m, in_a_bay=asked.bay is not None)
    what = None if record.centre is None else what_was_measured(record.centre.source, state.coupled)
    found = judge(height_mm, u_mm, rule, state, asked.coupling, what=what, decision=decision)
    return _Judged(verdict=found.verdict, p_inside=found.p_inside)


def _together(record: Record, tape: TapeReading, photo_u_mm: float) -> TogetherPart:
    best = combine(record.height_mm or 0.0, photo_u_mm, tape)
    judged = _judged(record, best.height_mm, best.u_mm)
    U_mm = COVERAGE_FACTOR * best.u_mm
    return TogetherPart(
        height_mm=best.height_mm,
        u_mm=best.u_mm,
        interval_mm=(best.height_mm - U_mm, best.height_mm + U_mm),
        verdict=judged.verdict,
        p_inside=judged.p_inside,
    )
