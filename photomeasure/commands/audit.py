"""`photomeasure audit [LEDGER]...`: photographs against tapes so far."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from calib.words.said import said
from photomeasure.commands.exit_codes import EXIT_DONE, EXIT_REFUSED

if TYPE_CHECKING:
    from photomeasure.audit.ledger import Ledger


def run(places: tuple[Path, ...], json_file: Path | None) -> int:
    """Audit the records at these places; returns the exit code, whatever the audit says.

    A place that is not there, a named file that is no record and a broken record in a folder are told, and the others are
    audited all the same. Raises InputError where none of the places is there.
    """
    import json

    from photomeasure.audit.ledger import read_ledger
    from photomeasure.audit.text import document
    from photomeasure.commands.output import check_json, to_standard_output, write_json

    check_json(json_file, "audit", (place for place in places if place.is_file()))
    ledger = read_ledger(places)
    if json_file is not None:
        write_json(json_file, json.dumps(document(ledger), indent=1, ensure_ascii=False, allow_nan=False) + "\n")
    if not to_standard_output(json_file):
        _show(ledger)
    return EXIT_REFUSED if ledger.no_records or ledger.unreadable else EXIT_DONE


def _show(ledger: Ledger) -> None:
    from photomeasure.audit import text
    from photomeasure.audit.figures import MIN_TAPES, figures
    from photomeasure.shown.page_of_text import PageOfText

    page = PageOfText()
    page.heading(said("Photographs against tapes"))
    page.lines(text.counted(ledger))
    if len(ledger.pairs) < MIN_TAPES:
        page.lines([text.too_few(ledger)])
        page.section(said("So far"), text.every(ledger))
        return
    whole = figures(ledger.pairs)
    page.facts(text.rows(whole))
    page.section(said("What to do"), text.to_do(whole))
    page.section(said("Disagree with their tape"), text.disagreeing(ledger))
    groups = text.group_lines(ledger)
    if groups:
        page.block("Groups", [*groups, *text.group_notes(ledger)])
