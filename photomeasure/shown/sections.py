"""What is said beside a figure, said once for terminal, report and page: facts, and what to do and to know, in order."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass

from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.headline import headline
from photomeasure.shown.options_said import TITLES, Door, needed
from photomeasure.shown.quantities import mostly
from photomeasure.shown.rows import fact_rows, rule_says, tape_rows
from photomeasure.uncertainty.printed import printed, rounded

_SOURCES = {
    "pick": "marked by hand",
    "tag": "centre tag",
    "ball": "the ball's outline, found by the program",
    "carried": "carried over by a bar tag from before",
}
_SHOWN_BUDGET = 2
BETTER = "What would make it surer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A titled list; numbered where the order matters. beside: belongs beside the answer, on a report's first page."""

    title: str
    lines: tuple[str, ...]
    numbered: bool = False
    beside: bool = True

    def marks(self) -> list[str]:
        return [f"{i}." if self.numbered else "-" for i in range(1, len(self.lines) + 1)]


def facts(record: Record) -> list[tuple[str, str]]:
    """Label and text of everything that explains the figure, the most wanted first."""
    if record.refusal is not None:
        taped = [] if record.tape is None else tape_rows(record.tape)[:1]
        return [("Why", record.refusal.reason), ("Next", record.refusal.remedy), *taped]
    rows: list[tuple[str, str]] = [] if record.tape is None else tape_rows(record.tape)
    whose = "" if record.tape is None else "by the photograph: "
    span = words.band(record.rule)
    if span is not None and record.rule is not None:
        rule = record.rule
        rows.append(("Band", span))
        rows.append(("Rule", words.rule_line(rule)))
    elif record.rule is not None:
        rows.append(("Band", record.sentence))
    if record.p_inside is not None:
        guard = record.rule.guard_band_mm if record.rule is not None else None
        kept = f"; guard band {rounded(guard)} mm at each end" if guard and rounded(guard) != "0.0" else ""
        rows.append(("Inside", f"{whose}probability {words.percent(record.p_inside)}{kept}"))
    if record.rule is not None and record.rule.decision_from == "user":
        rows.append(("Decision", f"{record.rule.decision}, as asked for"))
    if (interval := words.interval(record)) is not None:
        rows.append(("Interval", f"{whose}{interval} (95 %{_factor(record)})"))
    rows.append(("Photographed", f"{words.photographed(record)}; computed {words.moment(record.computed)}"))
    if record.budget:
        rows.append(("Mostly from", mostly(record.budget, _SHOWN_BUDGET)))
    if record.centre is not None:
        rows.append(("Centre", ". ".join((_SOURCES[record.centre.source], *record.centre.checks))))
    if record.carried is not None and record.sink is not None:
        mm, u_mm = record.sink.mm, record.sink.u_mm
        way = "Sank" if mm >= 0.0 else "Rose"
        figure = printed(abs(mm), (abs(mm) - 2.0 * u_mm, abs(mm) + 2.0 * u_mm)).text
        rows.append((way, f"{figure} since {record.carried.record} (bar tag {record.carried.tag})"))
    rows += fact_rows(record)
    if record.camera is not None:
        rows.append(("Camera", record.camera.source))
    if record.monte_carlo is not None:
        rows.append(("Checked", record.monte_carlo.sentence))
    return rows


def _factor(record: Record) -> str:
    """The coverage factor, where it is not the usual 2."""
    factor = record.coverage_factor
    return "" if factor is None or abs(factor - 2.0) < 0.005 else f", {factor:.2f} u"


def sections(record: Record, door: Door) -> list[Section]:
    """What to do and to know, in the words of a door; empty ones left out. How to use a tape goes once it has been used.

    What only the person can tell stands by itself, before what would put the rig right, and is not said twice.
    """
    answered = {sentence for need in record.needs for sentence in need.answers}
    needs = Section(title=TITLES[door], lines=needed(record, door))
    tape_title = "Confirm with a tape" if record.refusal is None else "Until then, measure with a tape"
    found = (
        *((needs,) if headline(record).look != "disagree" else ()),
        Section(title=_advice_title(record), lines=_without(_advice(record), answered)),
        Section(title="Why only indicative", lines=tuple(record.indicative_why)),
        Section(title="Please note", lines=_noted(record, answered)),
        *((needs,) if headline(record).look == "disagree" else ()),
        Section(title="About the rule", lines=rule_says(record.rule) if record.refusal is None else ()),
        Section(title=BETTER, lines=tuple(record.coach), beside=False),
        Section(
            title=tape_title,
            lines=() if record.tape is not None else tuple(record.confirm),
            numbered=True,
            beside=False,
        ),
    )
    return [section for section in found if section.lines]


def _without(lines: Iterable[str], said: Container[str]) -> tuple[str, ...]:
    return tuple(line for line in lines if line not in said)


def _noted(record: Record, answered: Container[str]) -> tuple[str, ...]:
    """The notes, but for those that stand elsewhere already: as a reason, or as a question."""
    return _without(_without(record.warnings, answered), record.indicative_why)


def _advice_title(record: Record) -> str:
    if record.tape is not None and record.tape.withdrawn is not None:
        return "What to repeat, in this order"
    if record.indicative:
        return "What to do next"
    return "What would put it right" if record.verdict in ("above", "below", "undecided") else "Room and advice"


def _advice(record: Record) -> tuple[str, ...]:
    """Without the remedy of a refusal, which has its own place."""
    return () if record.refusal is not None else tuple(record.advice)
