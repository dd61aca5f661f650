"""What is said beside a figure, said once for terminal, report and page: facts, and what to do and to know, in order."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass

from calib.words.said import number, said, say, shown
from photomeasure.record.schema import Record
from photomeasure.shown import words
from photomeasure.shown.headline import headline
from photomeasure.shown.options_said import TITLES, Medium, needed
from photomeasure.shown.quantities import mostly
from photomeasure.shown.rows import ball_words, fact_rows, rule_says, tape_rows
from photomeasure.uncertainty.printed import printed, rounded

_SOURCES = {
    "pick": said("marked by hand"),
    "tag": said("centre tag"),
    "ball": said("the ball's outline, found by the program"),
    "carried": said("carried over by a bar tag from before"),
}
_SHOWN_BUDGET = 2
BETTER = said("What would make it surer")


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
        return [(said("Why"), record.refusal.reason), (said("Next"), record.refusal.remedy), *taped]
    rows: list[tuple[str, str]] = [] if record.tape is None else tape_rows(record.tape)
    span = words.band(record.rule)
    if span is not None and record.rule is not None:
        rows.append((said("Band"), span))
        rows.append((said("Rule"), words.rule_line(record.rule)))
    elif record.rule is not None:
        rows.append((said("Band"), record.sentence))
    if record.p_inside is not None:
        rows.append((said("Inside"), _chance(record)))
    if record.rule is not None and record.rule.decision_from == "user":
        rows.append((said("Decision"), say("{decision}, as asked for", decision=record.rule.decision)))
    if (interval := words.interval(record)) is not None:
        within = f"{interval} (95 %{_factor(record)})"
        rows.append(
            (said("Interval"), within if record.tape is None else say("by the photograph: {what}", what=within))
        )
    when = say("{when}; computed {computed}", when=words.photographed(record), computed=words.moment(record.computed))
    rows.append((said("Photographed"), when))
    if record.budget:
        rows.append((said("Mostly from"), mostly(record.budget, _SHOWN_BUDGET)))
    if record.centre is not None:
        found = (_SOURCES[record.centre.source], *record.centre.checks)
        rows.append((said("Centre"), ". ".join(map(shown, found))))
    if record.ball is not None:
        rows.append((said("Ball"), ball_words(record, record.ball)))
    if record.stand_test is not None:
        one = record.stand_test
        figure = printed(one.drop_mm, (one.drop_mm - 2.0 * one.u_mm, one.drop_mm + 2.0 * one.u_mm)).text
        down = say("{figure} down under {mass_kg:g} kg on the bar, by photograph", figure=figure, mass_kg=one.mass_kg)
        rows.append((said("Stand test"), down))
    if record.carried is not None and record.sink is not None:
        mm, u_mm = record.sink.mm, record.sink.u_mm
        figure = printed(abs(mm), (abs(mm) - 2.0 * u_mm, abs(mm) + 2.0 * u_mm)).text
        since = say(
            "{figure} since {record} (bar tag {tag})",
            figure=figure,
            record=record.carried.record,
            tag=record.carried.tag,
        )
        rows.append((said("Sank") if mm >= 0.0 else said("Rose"), since))
    elif record.sink is not None:
        mm, u_mm = record.sink.mm, record.sink.u_mm
        figure = printed(abs(mm), (abs(mm) - 2.0 * u_mm, abs(mm) + 2.0 * u_mm)).text
        since = say("{figure} since the photographs from before", figure=figure)
        rows.append((said("Sank") if mm >= 0.0 else said("Rose"), since))
    rows += fact_rows(record)
    if record.camera is not None:
        rows.append((said("Camera"), record.camera.source))
    if record.monte_carlo is not None:
        rows.append((said("Checked"), record.monte_carlo.sentence))
    return rows


def _chance(record: Record) -> str:
    """The probability of being inside, whose it is, and what is kept free for it."""
    chance = say("probability {percent}", percent=words.percent(record.p_inside or 0.0))
    if record.tape is not None:
        chance = say("by the photograph: {what}", what=chance)
    guard = record.rule.guard_band_mm if record.rule is not None else None
    if not guard or rounded(guard) == "0.0":
        return chance
    return say("{chance}; guard band {mm} mm at each end", chance=chance, mm=rounded(guard))


def _factor(record: Record) -> str:
    """The coverage factor, where it is not the usual 2."""
    factor = record.coverage_factor
    return "" if factor is None or abs(factor - 2.0) < 0.005 else f", {number(factor, '.2f')} u"


def sections(record: Record, door: Medium) -> list[Section]:
    """What to do and to know, in the words of a door; empty ones left out. How to use a tape goes once it has been used.

    What only the person can tell stands by itself, before what would put the rig right, and is not said twice.
    """
    answered = {sentence for need in record.needs for sentence in need.answers}
    needs = Section(title=TITLES[door], lines=needed(record, door))
    tape_title = said("Confirm with a tape") if record.refusal is None else said("Until then, measure with a tape")
    found = (
        *((needs,) if headline(record).look != "disagree" else ()),
        Section(title=_advice_title(record), lines=_without(_advice(record), answered)),
        Section(title=said("Why only indicative"), lines=tuple(record.indicative_why)),
        Section(title=said("Please note"), lines=_noted(record, answered)),
        Section(title=said("What the photographs cannot show"), lines=tuple(record.rests_on)),
        *((needs,) if headline(record).look == "disagree" else ()),
        Section(title=said("About the rule"), lines=rule_says(record.rule) if record.refusal is None else ()),
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
        return said("What to repeat, in this order")
    if record.indicative:
        return said("What to do next")
    return (
        said("What would put it right")
        if record.verdict in ("above", "below", "undecided")
        else said("Room and advice")
    )


def _advice(record: Record) -> tuple[str, ...]:
    """Without the remedy of a refusal, which has its own place."""
    return () if record.refusal is not None else tuple(record.advice)
