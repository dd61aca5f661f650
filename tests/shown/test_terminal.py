"""What a person reads on a terminal, and what a program reads through a pipe."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console

from photomeasure.asked.state import State
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.record.cautions import SHORTER
from photomeasure.record.schema import (
    BudgetRow,
    CentrePart,
    Record,
    RefusalPart,
    RulePart,
    StatePart,
    VerdictWord,
)
from photomeasure.record.tape_instructions import tape_instructions
from photomeasure.record.with_tape import with_tape
from photomeasure.shown import terminal, words

RULE = RulePart(
    name="yard", title="Ferncombe hire yard's own band (invented)", low_mm=350.0, high_mm=460.0, source="invented",
    edition="1", confidence="computed", decision="guarded", guard_band_mm=3.0,
)  # fmt: skip


def record(verdict: VerdictWord = "within", height: float = 412.57, U_mm: float = 2.96, **more: object) -> Record:
    parts: dict[str, object] = {
        "version": "0", "computed": "2026-01-02T03:04:05+00:00", "height_mm": height, "u_mm": U_mm / 2, "U_mm": U_mm,
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
    for part in ("412.6 mm", "\N{PLUS-MINUS SIGN} 3.0 mm", "WITHIN THE BAND", "409.6 to 415.6 mm", "350-460 mm",
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


@pytest.mark.parametrize("verdict", ["within", "above", "below"])
def test_what_is_indicative_has_an_if_in_it_and_no_filled_sign(verdict: VerdictWord) -> None:
    """Without colour too: strokes around it."""
    shown = record(verdict, indicative=True, indicative_why=["The rule is for a laden rig."])
    first = piped(shown).splitlines()[0]
    assert f"/// {words.TITLES[verdict].upper()}, IF ... ///" in first
    assert "48;2" not in on_terminal(shown)[: on_terminal(shown).index("IF ...")]  # no background
    assert "///" not in piped(record(verdict)) and "IF ..." not in piped(record(verdict))


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
    assert words.height(shown) == "461 mm" and words.interval(shown) == "450 to 472 mm"
    assert words.plus_minus(shown) == "\N{PLUS-MINUS SIGN} 11 mm"


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
    [
        ("\n", None),
        ("", None),
        ("412\n", (412.0, "middle")),
        ("412,5 mm\n", (412.5, "middle")),
        ("abc\n9\n413\n", (413.0, "middle")),
        ("nan\n", None),
        ("437 top\n", (437.0, "top")),
        ("412 mm tag\n", (412.0, "tag")),
    ],
)
def test_the_tape_is_asked_for_until_it_is_a_height(
    monkeypatch: pytest.MonkeyPatch, typed: str, reading: tuple[float, str] | None
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    assert terminal.ask_tape() == reading


def shown_tape(kept: Record, *, is_terminal: bool) -> str:
    stream = io.StringIO()
    terminal.show_tape(kept, Console(file=stream, force_terminal=is_terminal, width=80, highlight=False))
    return " ".join(bare(stream.getvalue()).split())


@pytest.mark.parametrize("is_terminal", [True, False])
def test_a_tape_that_agrees_is_told_with_the_best_value_of_both(is_terminal: bool) -> None:
    text = shown_tape(with_tape(record(), TapeSaid(reading_mm=413.0)), is_terminal=is_terminal)
    assert "413.0 \N{PLUS-MINUS SIGN} 1.7 mm" in text and "so the two agree" in text and "Together" in text


@pytest.mark.parametrize("is_terminal", [True, False])
def test_a_tape_that_contradicts_wins_the_headline(is_terminal: bool) -> None:
    """Whether it is typed afterwards or was there from the start; no advice to lower, no steps for a tape that was used."""
    kept = with_tape(record(), TapeSaid(reading_mm=480.0))
    for text in (shown_tape(kept, is_terminal=is_terminal), " ".join(bare(on_terminal(kept)).split()), piped(kept)):
        first = text[: text.index("What to repeat")]
        assert "PHOTOGRAPH AND TAPE DISAGREE" in first and "WITHIN THE BAND" not in text
        assert "Nothing to change" not in text and "Confirm with a tape:" not in text
        assert "412.6 \N{PLUS-MINUS SIGN} 3.0 mm" in text and "480.0 \N{PLUS-MINUS SIGN} 1.7 mm" in text


@pytest.mark.parametrize(("height", "U_mm"), [(498.2497, 1.2049), (430.95, 0.8509), (420.6, 17.3), (390.45, 1.549)])
def test_the_interval_is_the_printed_figure_and_the_printed_spread(height: float, U_mm: float) -> None:
    shown = record(height=height, U_mm=U_mm)
    figure, spread = (
        float(re.findall(r"[\d.]+", said or "")[0]) for said in (words.height(shown), words.plus_minus(shown))
    )
    low, high = (float(end) for end in re.findall(r"[\d.]+", words.interval(shown) or ""))
    assert [low, high] == pytest.approx([figure - spread, figure + spread])


def test_a_lopsided_interval_is_told_as_it_is() -> None:
    shown = record(interval_mm=(410.0, 416.0))
    assert words.plus_minus(shown) == "+3.4 -2.6 mm" and words.interval(shown) == "410.0 to 416.0 mm"


def test_a_guard_band_of_nothing_is_not_printed() -> None:
    assert "guard band" not in piped(record(rule=RULE.model_copy(update={"guard_band_mm": 0.0})))
    assert "guard band 3.0 mm" in piped(record())
