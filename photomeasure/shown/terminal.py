"""A record on a terminal: the figure and the verdict at a glance, then what to do, then why.

On a terminal it is laid out in colour for 80 columns; piped into a file or a program it is plain text, one item a line,
nothing wrapped. What the output's encoding cannot hold is replaced, never an error.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from calib.outcome.errors import InputError
from calib.words.said import said, say, shown
from photomeasure.asked.limits import TAPE_MM
from photomeasure.asked.tape_said import TapeTo, tape_to_from
from photomeasure.asked.typed import number_typed
from photomeasure.record.cautions import SHORTER
from photomeasure.record.schema import Record, VerdictWord
from photomeasure.shown import words
from photomeasure.shown.headline import headline
from photomeasure.shown.rows import tape_rows
from photomeasure.shown.sections import BETTER, Section, facts, sections
from photomeasure.uncertainty.printed import PLUS_MINUS

WIDTH = 88
_STYLES: dict[VerdictWord, str] = {
    "within": "bold white on dark_green",
    "above": "bold white on dark_red",
    "below": "bold white on dark_red",
    "undecided": "bold black on yellow3",
    "no-band": "bold white on grey37",
    "refused": "bold black on grey82",
}
# not in the short answer: what the figure rests on, and how to do better next time
_DETAIL_FACTS = frozenset({said("Mostly from"), "Centre", "Ball", "Camera", "Rule", "Interval"})
_DETAIL_SECTIONS = frozenset({BETTER, said("About the rule")})
MORE = said("What the figure and the rule rest on, and what would make it surer: --details.")


def show(record: Record, console: Console | None = None, *, details: bool = True) -> None:
    """Print a record for a person; console: where to, by default the standard output; details: everything, else the
    short answer."""
    console = console or Console(highlight=False)
    if console.is_terminal:
        console.width = min(console.width, WIDTH)
        _show_laid_out(record, console, details=details)
    else:
        console.file.write(_safe(plain(record, details=details), console.encoding))


def plain(record: Record, *, details: bool = True) -> str:
    """The same content as plain text: no wrapping, no boxes, no colours."""
    lines = ["   ".join(part for part in (_figure(record), _title(record)) if part)]
    lines += [f"{shown(label)}: {shown(text)}" for label, text in _shown(facts(record), details)]
    for section in _short(sections(record, "command"), details):
        lines += ["", f"{shown(section.title)}:"]
        lines += [f"  {mark} {shown(text)}" for mark, text in zip(section.marks(), section.lines, strict=True)]
    return "\n".join(
        [*lines, "", *([] if details or record.refusal is not None else [shown(MORE)]), shown(SHORTER), ""]
    )


def _shown(rows: list[tuple[str, str]], details: bool) -> list[tuple[str, str]]:
    return [row for row in rows if details or row[0] not in _DETAIL_FACTS]


def _short(found: list[Section], details: bool) -> list[Section]:
    return [section for section in found if details or section.title not in _DETAIL_SECTIONS]


def _figure(record: Record) -> str:
    height, spread = words.height(record), words.plus_minus(record)
    return "" if height is None or spread is None else f"{height}  {spread}"


def _title(record: Record) -> str:
    """In capitals; between strokes, as its badge is hatched, where it does not hold as it is."""
    found = headline(record)
    title = shown(found.title).upper()
    return title if found.sure else f"/// {title} ///  ({say('indicative only')})"


def _safe(text: str, encoding: str) -> str:
    """The text with what the output cannot hold replaced."""
    try:
        PLUS_MINUS.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        text = text.replace(PLUS_MINUS, "+/-")
    try:
        return text.encode(encoding, "replace").decode(encoding)
    except LookupError:
        return text.encode("ascii", "replace").decode("ascii")


# -- laid out ------------------------------------------------------------------------------------------------------


def _show_laid_out(record: Record, console: Console, *, details: bool) -> None:
    def text(content: str, style: str = "") -> Text:
        return Text(_safe(shown(content), console.encoding), style=style)

    body = Text()
    figure, found = _figure(record), headline(record)
    title = shown(found.title).upper()
    if figure:
        body.append(_safe(f"{figure}   ", console.encoding), style="bold")
    if found.sure:
        body.append(f" {title} ", style=_STYLES[record.verdict])
    else:  # never a filled sign: strokes around it, which a black-and-white print shows too
        body.append(f"/// {title} ///", style="bold yellow3")
        body.append(f"  {say('indicative only')}", style="yellow3")
    if (scale := _scale(record, console.width - 8)) is not None:
        body.append("\n\n").append_text(scale)
    console.print(Panel(body, border_style="grey50", padding=(0, 2)))
    console.print(
        Padding(_grid((text(label, "bold"), text(value)) for label, value in _shown(facts(record), details)), (0, 2))
    )
    for section in _short(sections(record, "command"), details):
        console.print(Padding(text(section.title, "bold"), (1, 2, 0, 2)))
        rows = ((text(mark), text(line)) for mark, line in zip(section.marks(), section.lines, strict=True))
        console.print(Padding(_grid(rows, gap=1), (0, 2, 0, 4)))
    more = [] if details or record.refusal is not None else [MORE]
    console.print(Padding(text("\n".join(map(shown, [*more, SHORTER])), "dim"), (1, 2, 0, 2)))


def _grid(rows: Iterable[tuple[Text, Text]], *, gap: int = 2) -> Table:
    """Two columns, so that a wrapped line stays beside its label."""
    table = Table.grid(padding=(0, gap, 0, 0))
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for label, content in rows:
        table.add_row(label, content)
    return table


def _scale(record: Record, width: int) -> Text | None:
    """The band as a bar |---|, the interval on it as ===, the figure as #; the band's ends written below."""
    rule, interval, height = record.rule, record.interval_mm, record.height_mm
    if rule is None or rule.low_mm is None or rule.high_mm is None or interval is None or height is None or width < 24:
        return None
    low, high = rule.low_mm, rule.high_mm
    first, last = min(low - 40, interval[0] - 10), max(high + 40, interval[1] + 10)

    def column(value: float) -> int:
        return round((value - first) / (last - first) * (width - 1))

    row = Text(" " * column(low) + "|" + "-" * (column(high) - column(low) - 1) + "|", style="cyan")
    row.append(" " * (width - len(row)))
    left, right = column(interval[0]), column(interval[1])
    marks = row.plain[:left] + "=" * (right - left + 1) + row.plain[right + 1 :]
    marks = marks[: column(height)] + "#" + marks[column(height) + 1 :]
    line = Text(marks)
    line.stylize("cyan", column(low), column(high) + 1)
    line.stylize("bold yellow3", left, right + 1)
    labels = " " * width
    for value in (low, high):
        text = f"{value:g}"
        start = min(max(column(value) - len(text) // 2, 0), width - len(text))
        labels = labels[:start] + text + labels[start + len(text) :]
    line.rstrip()
    return line.append("\n").append(labels.rstrip(), style="cyan")


# -- the tape ------------------------------------------------------------------------------------------------------


def ask_tape(*, top: bool = True) -> tuple[float, TapeTo] | None:
    """Ask for the tape's reading in millimetres and up to what; Enter, or the end of input, skips. top: whether the ball's
    top can be reached."""
    asked = (
        say('Tape reading in mm, to the coupling\'s middle (else "412 top" or "412 tag"; Enter skips)')
        if top
        else say('Tape reading in mm, to the coupling\'s middle (else "412 tag"; Enter skips)')
    )
    while True:
        print(f"\n  {asked}: ", end="", flush=True)
        answer = sys.stdin.readline().strip().lower()
        if not answer:
            return None
        to = next((word for word in ("top", "tag", "middle") if answer.endswith(word)), "middle")
        bare = answer.removesuffix(to)
        try:
            value = number_typed(bare, said("The tape's reading"), TAPE_MM)
        except InputError as error:
            print("  " + say("{what} Expected: {expected}.", what=error.what, expected=error.expected))
            continue
        if to != "top" or top:
            return value, tape_to_from(to, "reading")
        print("  " + say("The top of the ball cannot be reached here."))


def show_tape(record: Record, console: Console | None = None) -> None:
    """The comparison with a tape's reading that was given after the result was shown; the whole result again where the
    reading changes what holds."""
    tape = record.tape
    if tape is None:
        return
    console = console or Console(highlight=False)
    if tape.withdrawn is not None:
        show(record, console)
        return
    rows = tape_rows(tape)
    if not console.is_terminal:
        console.file.write("".join(_safe(f"{shown(label)}: {shown(text)}\n", console.encoding) for label, text in rows))
        return
    console.width = min(console.width, WIDTH)
    laid = ((Text(shown(label), style="bold"), Text(_safe(shown(text), console.encoding))) for label, text in rows)
    console.print(Padding(_grid(laid), (1, 2, 0, 2)))


def show_written(paths: Sequence[Path], console: Console | None = None) -> None:
    """Which files were written, one line."""
    if not paths:
        return
    console = console or Console(highlight=False)
    line = _safe(say("Written: {files}", files=", ".join(map(str, paths))), console.encoding)
    if console.is_terminal:
        console.width = min(console.width, WIDTH)
        console.print(Padding(Text(line, style="dim"), (1, 2, 0, 2)))
    else:
        console.file.write(f"\n{line}\n")
