"""A record on a terminal: the figure and the verdict at a glance, then what to do, then why."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.panel import Panel
from rich.text import Text

from photomeasure.cautions import SHORTER
from photomeasure.record import Record

WIDTH = 88
_TITLES = {
    "within": ("WITHIN THE BAND", "bold white on dark_green"),
    "above": ("ABOVE THE BAND", "bold white on dark_red"),
    "below": ("BELOW THE BAND", "bold white on dark_red"),
    "undecided": ("TOO CLOSE TO CALL", "bold black on yellow3"),
    "no-band": ("NO BAND APPLIES", "bold white on grey37"),
    "refused": ("CANNOT MEASURE", "bold white on grey37"),
}
_SOURCES = {"pick": "marked by hand", "tag": "centre tag", "ball": "ball's outline, found by the program"}


def _console() -> Console:
    console = Console(highlight=False)
    console.width = min(console.width, WIDTH)
    return console


def _headline(record: Record) -> Text:
    title, style = _TITLES[record.verdict]
    line = Text()
    if record.height_mm is not None and record.U_mm is not None:
        line.append(f"{record.height_mm:.1f} mm", style="bold")
        line.append(f"  +/- {record.U_mm:.1f} mm", style="")
        line.append("   ")
    line.append(f" {title} ", style=style)
    if record.indicative:
        line.append("  indicative only", style="italic")
    return line


def _scale(record: Record, width: int) -> Text | None:
    """The band as a bar, and where the interval lies on it."""
    if record.rule is None or record.rule.low_mm is None or record.rule.high_mm is None or record.interval_mm is None:
        return None
    low, high = record.rule.low_mm, record.rule.high_mm
    first = min(low - 40, record.interval_mm[0] - 10)
    last = max(high + 40, record.interval_mm[1] + 10)

    def column(value: float) -> int:
        return round((value - first) / (last - first) * (width - 1))

    marks = [" "] * width
    marks[column(low) : column(high) + 1] = ["-"] * (column(high) - column(low) + 1)
    marks[column(low)] = marks[column(high)] = "|"
    left, right = column(record.interval_mm[0]), column(record.interval_mm[1])
    marks[left : right + 1] = ["="] * (right - left + 1)
    marks[column(record.height_mm or low)] = "#"
    labels = [" "] * width
    for value in (low, high):
        text = f"{value:g}"
        start = min(max(column(value) - len(text) // 2, 0), width - len(text))
        labels[start : start + len(text)] = text
    return Text("".join(marks).rstrip() + "\n" + "".join(labels).rstrip())


def _facts(record: Record) -> list[str]:
    facts = []
    if record.p_inside is not None and record.rule is not None:
        facts.append(
            f"Band {record.rule.low_mm:g}-{record.rule.high_mm:g} mm ({record.rule.title}); probability of being inside "
            f"{100 * record.p_inside:.1f} %; guard band {record.rule.guard_band_mm or 0:.1f} mm."
            if record.rule.low_mm is not None and record.rule.high_mm is not None
            else f"{record.rule.title}; probability of being inside {100 * record.p_inside:.1f} %."
        )
    if record.interval_mm is not None:
        facts.append(f"95 % interval {record.interval_mm[0]:.1f} to {record.interval_mm[1]:.1f} mm (U = 2 u).")
    if record.centre is not None:
        facts.append(f"Coupling centre: {_SOURCES[record.centre.source]}.")
    if record.budget:
        top = record.budget[0]
        facts.append(f"Largest part of the uncertainty: {top.quantity} ({100 * top.share:.0f} %).")
    return facts


def show(record: Record) -> None:
    """Print a record for a person."""
    console = _console()
    body = _headline(record)
    scale = _scale(record, console.width - 8)
    if scale is not None:
        body.append("\n\n")
        body.append_text(scale)
    console.print(Panel(body, border_style="grey50", padding=(1, 2)))
    if record.refusal is not None:
        console.print(Padding(f"[bold]Why[/]   {escape(record.refusal.reason)}", (0, 2)))
        console.print(Padding(f"[bold]Next[/]  {escape(record.refusal.remedy)}", (0, 2)))
    else:
        for fact in _facts(record):
            console.print(Padding(escape(fact), (0, 2)))
    _section(console, "What would put it right" if record.verdict in ("above", "below") else "Room and advice", record.advice if record.refusal is None else [])
    _section(console, "Why only indicative", record.indicative_why)
    _section(console, "Please note", record.warnings)
    _section(console, "A better picture", record.coach)
    _section(console, "Confirm with a tape", record.confirm)
    console.print(Padding(f"[dim]{escape(SHORTER)}[/]", (1, 2)))


def _section(console: Console, title: str, lines: list[str]) -> None:
    if not lines:
        return
    console.print(Padding(f"[bold]{escape(title)}[/]", (1, 2, 0, 2)))
    for line in lines:
        console.print(Padding(f"- {escape(line)}", (0, 2, 0, 4)))


def ask_tape() -> float | None:
    """Ask for the tape's reading; Enter skips."""
    console = _console()
    while True:
        answer = console.input("  Tape reading in mm (Enter to skip): ").strip().replace(",", ".")
        if not answer:
            return None
        try:
            value = float(answer.removesuffix("mm").strip())
        except ValueError:
            value = float("nan")
        if 100.0 <= value <= 1500.0:
            return value
        console.print("  That is no height in millimetres between 100 and 1500, such as 412.")


def show_tape(record: Record) -> None:
    """The comparison with the tape."""
    if record.tape is not None:
        tape = record.tape
        en = "" if tape.en is None else f" En {tape.en:.2f}."
        _console().print(Padding(f"[bold]Tape {tape.reading_mm:g} mm[/]  {escape(tape.sentence)}{en}", (0, 2)))
