"""A result as the page shows it: the record's own sentences in the page's order."""

from __future__ import annotations

from dataclasses import dataclass, replace

from markupsafe import Markup

from calib.words.said import number, said, say, shown
from photomeasure.record.schema import Record
from photomeasure.rules.load import DEFAULT_RULES, available_rules, load_rule
from photomeasure.scene.quantities import named
from photomeasure.shown import words
from photomeasure.shown.budget_sum import budget_remark
from photomeasure.shown.headline import headline
from photomeasure.shown.picture.refusal import RULED
from photomeasure.shown.rows import confidence_words, rule_rows, state_words, tape_rows
from photomeasure.shown.sections import Section, facts, sections
from photomeasure.web.drawings import scale, sign
from photomeasure.web.inches import in_inches

_LABELS_APART = frozenset({"Why", "Next", "Mostly from", "Tape", "Compared", "Together"})  # have their own place


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleOffered:
    """A built-in rule as it can be chosen, with what it rests on."""

    name: str
    title: str
    bands: tuple[str, ...]
    source: str
    edition: str
    confidence: str
    notes: tuple[str, ...]
    contradictions: tuple[str, ...]
    asks_level_control: bool
    default_for: str  # the coupling whose own rule it is, or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultPage:
    """What the template shows of a record."""

    look: str
    title: str
    sign: Markup
    sure: bool
    height: str | None
    plus_minus: str | None
    inches: tuple[str, str] | None
    scale: Markup | None
    legend: str
    reason: str | None
    remedy: str | None
    lead: str | None
    mostly: str | None
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
    tape_title: str
    tape_top: bool
    tape_tag: bool
    tape_steps: tuple[str, ...]
    budget: tuple[tuple[str, str, str], ...]
    budget_remark: str
    tape: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    asks_for_centre: bool


def result_page(record: Record) -> ResultPage:
    """Everything the result's template needs, in words."""
    refusal, head = record.refusal, headline(record)
    rows = facts(record)
    settled = head.look != "disagree"
    lead = (record.adjustment.sentence if record.adjustment is not None else None) if settled else record.sentence
    mostly = next((text for label, text in rows if label == "Mostly from"), None)
    listed = [
        replace(part, lines=lines)
        for part in sections(record, "page")
        if (lines := tuple(line for line in part.lines if line != lead))
    ]
    tape_section = next((part for part in listed if part.numbered), None)
    return ResultPage(
        look=head.look,
        title=head.title,
        sign=sign(head.look),
        sure=head.sure,
        height=words.height(record),
        plus_minus=words.plus_minus(record),
        inches=in_inches(record),
        scale=scale(record),
        legend=_legend(record),
        reason=None if refusal is None else refusal.reason,
        remedy=None if refusal is None else refusal.remedy,
        lead=lead,
        mostly=mostly,
        facts=tuple(row for row in rows if row[0] not in _LABELS_APART) + _rests_on(record),
        sections=tuple(part for part in listed if not part.numbered),
        tape_title=said("The tape") if tape_section is None else tape_section.title,
        tape_top=record.state.coupling != "pin" and record.state.coupled is not True,
        tape_tag=record.state.coupling != "pin",
        tape_steps=() if tape_section is None else tape_section.lines,
        budget=tuple(
            (named(row.quantity), number(row.u_mm, ".3f"), f"{number(100 * row.share, '.1f')} %")
            for row in record.budget
        ),
        budget_remark=budget_remark(record) if record.budget else "",
        tape=() if record.tape is None else tuple(tape_rows(record.tape)),
        cautions=tuple(record.cautions),
        asks_for_centre=refusal is not None and refusal.code in RULED,
    )


def _legend(record: Record) -> str:
    """What the scale shows, and nothing that it does not."""
    if record.tape is None:
        drawn = [say("Height of the coupling's centre above the ground. Bar with two ends: the 95 % interval.")]
    else:
        drawn = [
            say(
                "Height of the coupling's centre above the ground. Bar with two ends: the 95 % interval, by the photograph. Open diamond: by "
                "the tape."
            )
        ]
    if record.rule is not None and words.band(record.rule) is not None:
        drawn.append(
            say("Blue: the band, hatched where it is kept free for the uncertainty.")
            if record.rule.guard_band_mm
            else say("Blue: the band.")
        )
    return " ".join(drawn)


def _rests_on(record: Record) -> tuple[tuple[str, str], ...]:
    """The state and what the rule rests on; the rule itself where nothing was judged."""
    state = (said("State"), state_words(record.state))
    if record.rule is None:
        return (state,)
    judged = record.refusal is None
    rows = rule_rows(record.rule, judged=judged)
    return (state, *(row for row in rows if not judged or row[0] in ("Source", "Confidence")))


def rule_choices() -> tuple[RuleOffered, ...]:
    """Every built-in rule, the couplings' own first."""
    own = {name: coupling for coupling, name in DEFAULT_RULES.items()}
    names = sorted(available_rules(), key=lambda name: (name not in own, name))
    return tuple(_choice(name, own.get(name, "")) for name in names)


def _choice(name: str, default_for: str) -> RuleOffered:
    rule = load_rule(name)
    return RuleOffered(
        name=name,
        title=rule.title,
        bands=tuple(f"{shown(band.text)} ({shown(band.state.text)})" for band in rule.bands)
        or (said("no band is known to apply"),),
        source=rule.source,
        edition=rule.edition,
        confidence=confidence_words(rule.confidence),
        notes=rule.notes,
        contradictions=tuple(row.text for row in rule.contradictions),
        asks_level_control=any(band.state.level_control is not None for band in rule.bands),
        default_for=default_for,
    )
