"""What a person reads on a terminal, and what a program reads through a pipe."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console

from photomeasure.asked.state import State
from photomeasure.record.cautions import SHORTER
from photomeasure.record.schema import (
    BudgetRow,
    CentrePart,
    Record,
    RefusalPart,
    RulePart,
    StatePart,
    TapePart,
    VerdictWord,
)
from photomeasure.record.tape import tape_instructions
from photomeasure.shown import terminal, words

RULE = RulePart(
    name="yard", title="Ferncombe hire yard's own band (invented)", low_mm=350.0, high_mm=460.0, source="invented",
    edition="1", confidence="computed", decision="guarded", guard_band_mm=3.0,
)  # fmt: skip


def record(verdict: VerdictWord = "within", height: float = 412.57, U_mm: float = 2.96, **more: object) -> Record:
    parts: dict[str, object] = {
        "version": "0", "made": "2026-01-02T03:04:05+00:00", "height_mm": height, "u_mm": U_mm / 2, "U_mm": U_mm,
        "interval_mm": (height - U_mm, height + U_mm), "verdict": verdict, "sentence": "Said in one sentence.",
        "p_inside": 0.9876, "rule": RULE,
        "state": StatePart(coupling="ball-50", coupled=True, laden=True, level_ground=True),
        "advice": ["Nothing to change: there is room for 59 mm lower and 44 mm higher."],
        "warnings": ["A long warning that does not fit a line of eighty columns and is wrapped where it is laid out."],
        "budget": [BudgetRow(quantity="depth", u_mm=1.2, share=0.71)],
        "centre": CentrePart(source="pick", px=[[1.0, 2.0]]),
        "confirm": list(tape_instructions("ball-50", State(coupled=True))), **more,
    }  # fmt: skip
    return Record(**parts)  # type: ignore[arg-type]


def refused(reason: str = "The sheet is too small in the picture.") -> Record:
    part = RefusalPart(code="sheet-too-small", reason=reason, remedy="Go nearer.")
    nothing = dict.fromkeys(("height_mm", "u_mm", "U_mm", "interval_mm", "p_inside", "centre"))
    return record("refused").model_copy(update={**nothing, "refusal": part, "advice": ["Go nearer."], "budget": []})


def piped(shown: Record, encoding: str = "utf-8") -> str:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    terminal.show(shown, Console(file=stream, highlight=False))
    stream.flush()
    return raw.getvalue().decode(encoding)


def on_terminal(shown: Record, width: int = 80, encoding: str = "utf-8") -> str:
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding=encoding, newline="\n")
    terminal.show(
        shown, Console(file=stream, force_terminal=True, width=width, highlight=False, color_system="truecolor")
    )
    stream.flush()
    return raw.getvalue().decode(encoding)


def bare(text: str) -> str:
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


@pytest.mark.parametrize("show", [piped, on_terminal])
def test_figure_interval_verdict_tape_and_caution_are_there(show) -> None:  # type: ignore[no-untyped-def]
    text = " ".join(bare(show(record())).split())
    for part in ("412.6 mm", "\N{PLUS-MINUS SIGN} 3.0 mm", "WITHIN THE BAND", "409.6 to 415.5 mm", "350-460 mm",
                 "98.8 %",
                 "Confirm with a tape", "nobody between vehicle and trailer", SHORTER):  # fmt: skip
        assert part in text


@pytest.mark.parametrize("verdict", ["within", "above", "below", "undecided", "no-band"])
def test_every_verdict_is_told_in_its_own_words(verdict: VerdictWord) -> None:
    first = piped(record(verdict)).splitlines()[0]
    others = [title.upper() for name, title in words.TITLES.items() if name != verdict]
    assert words.TITLES[verdict].upper() in first and not any(other in first for other in others)


def test_a_pipe_gets_plain_lines_one_item_each() -> None:
    text = piped(record())
    assert "\x1b" not in text and not re.search(r"[\u2500-\u257f]", text)
    warning = record().warnings[0]
    assert any(line.strip() == f"- {warning}" for line in text.splitlines())
    assert text.endswith(f"{SHORTER}\n")


@pytest.mark.parametrize("width", [80, 60, 200])
def test_a_terminal_gets_nothing_wider_than_itself(width: int) -> None:
    lines = bare(on_terminal(record(), width)).splitlines()
    assert max(len(line) for line in lines) <= min(width, terminal.WIDTH)


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "cp437"])
@pytest.mark.parametrize("show", [piped, on_terminal])
def test_an_old_terminal_is_no_error(show, encoding: str) -> None:  # type: ignore[no-untyped-def]
    text = bare(show(refused("\u8f66 \u2013 \u2265 cannot be read."), encoding=encoding))
    assert "CANNOT MEASURE" in text and "cannot be read" in text
    assert ("+/- 3.0 mm" if encoding == "ascii" else "\N{PLUS-MINUS SIGN} 3.0 mm") in bare(
        show(record(), encoding=encoding)
    )


@pytest.mark.parametrize("show", [piped, on_terminal])
def test_a_refusal_has_reason_and_remedy_once_and_no_figure(show) -> None:  # type: ignore[no-untyped-def]
    text = bare(show(refused()))
    assert text.count("too small in the picture") == 1 and text.count("Go nearer.") == 1
    assert "Until then, measure with a tape" in text and "95 %" not in text and "None" not in text


def test_indicative_is_said_beside_the_verdict() -> None:
    shown = record(indicative=True, indicative_why=["The band speaks of a laden rig."])
    assert "indicative" in piped(shown).splitlines()[0]
    assert "The band speaks of a laden rig." in piped(shown)


@pytest.mark.parametrize(
    ("p", "said"),
    [(0.9999, "over 99.9 %"), (1.0, "over 99.9 %"), (0.99, "99.0 %"), (0.0, "under 0.1 %"), (0.0123, "1.2 %")],
)
def test_probabilities_are_never_told_as_certain(p: float, said: str) -> None:
    assert words.percent(p) == said


def test_a_decision_rule_that_was_asked_for_and_an_unusual_factor_are_told() -> None:
    asked = RULE.model_copy(update={"decision": "simple acceptance, no guard band", "decision_from": "user"})
    told = piped(record(rule=asked, coverage_factor=1.79))
    assert "Decision: simple acceptance, no guard band, as asked for" in told and "(95 %, 1.79 u)" in told
    usual = piped(record(coverage_factor=2.0))
    assert "Decision:" not in usual and "(95 %)" in usual


def test_a_coarse_figure_has_no_tenths() -> None:
    """At most two digits of the uncertainty, and the figure to the same decimal: JCGM 100:2008, 7.2.6."""
    shown = record(height=460.68, U_mm=10.74)
    assert words.height(shown) == "461 mm" and words.interval(shown) == "450 to 471 mm"
    assert words.plus_minus(shown, "+/-") == "+/- 11 mm"


@pytest.mark.parametrize(("height", "place"), [(300.0, "below"), (405.0, "within"), (600.0, "above")])
def test_the_figure_stands_on_the_scale_where_it_belongs(height: float, place: str) -> None:
    scale = terminal._scale(record(height=height), 60)
    assert scale is not None
    bar, labels = scale.plain.splitlines()
    low, high, figure = bar.index("|"), bar.rindex("|"), bar.index("#")
    assert {"below": figure < low, "within": low < figure < high, "above": figure > high}[place]
    if place == "within":  # half way between the ends, to the column
        assert abs(figure - (low + high) / 2) <= 1
    assert abs(labels.index("350") + 1 - low) <= 1 and abs(labels.index("460") + 1 - high) <= 1


@pytest.mark.parametrize(
    ("typed", "reading"),
    [("\n", None), ("", None), ("412\n", 412.0), ("412,5 mm\n", 412.5), ("abc\n9\n413\n", 413.0), ("nan\n", None)],
)
def test_the_tape_is_asked_for_until_it_is_a_height(
    monkeypatch: pytest.MonkeyPatch, typed: str, reading: float | None
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    assert terminal.ask_tape() == reading


@pytest.mark.parametrize("is_terminal", [True, False])
def test_the_tape_is_compared(is_terminal: bool) -> None:
    stream = io.StringIO()
    kept = record(
        tape=TapePart(reading_mm=413.0, u_mm=0.9, difference_mm=-0.4, en=0.12, agrees=True, sentence="The two agree.")
    )
    terminal.show_tape(kept, Console(file=stream, force_terminal=is_terminal, width=80, highlight=False))
    text = bare(stream.getvalue())
    assert "Tape 413 mm" in text and "The two agree. (En 0.12)" in text
