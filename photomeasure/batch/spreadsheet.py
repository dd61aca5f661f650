"""The table as a spreadsheet file (XLSX): numbers as numbers whatever the country's decimal sign, texts as texts."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import fields

from calib.outcome.errors import InputError
from calib.outcome.files import mark
from calib.words.said import said
from photomeasure.batch.rows import Row

_WIDEST = 60


def spreadsheet(rows: Sequence[Row]) -> bytes:
    """One sheet with a header that stays in sight. Raises InputError where openpyxl is not installed."""
    try:
        from openpyxl import Workbook
        from openpyxl.styles import Alignment, Font
        from openpyxl.utils import get_column_letter
    except ImportError as error:
        raise InputError(
            said("A spreadsheet needs a package that is not installed: openpyxl."),
            expected=said("photomeasure with its extra for spreadsheets"),
            remedy=said('pip install "photomeasure[xlsx]", or write a table with --csv'),
        ) from error
    names = [field.name for field in fields(Row) if field.name != "more"]
    further = list(dict.fromkeys(name for row in rows for name, _ in row.more))
    book = Workbook()
    book.properties.creator, book.properties.keywords = "photomeasure", mark("spreadsheet")
    sheet = book.active
    sheet.title = "Coupling heights"
    sheet.append([*names, *further])
    for row in rows:
        more = dict(row.more)
        texts = [*(str(getattr(row, name)) for name in names), *(more.get(name, "") for name in further)]
        sheet.append([None] * len(texts))
        for column, text in enumerate(texts, start=1):
            cell = sheet.cell(row=sheet.max_row, column=column)
            number = _number(names[column - 1], text) if column <= len(names) else None
            cell.value = text or None if number is None else number
            if number is None and text:
                cell.data_type = "s"  # never a formula, whatever it begins with
    for cell in sheet[1]:
        cell.font = Font(bold=True)
        widest = max(len(str(sheet.cell(row=i, column=cell.column).value or "")) for i in range(1, sheet.max_row + 1))
        sheet.column_dimensions[get_column_letter(cell.column)].width = min(max(widest, 6), _WIDEST) + 2
        cell.alignment = Alignment(vertical="top")
    sheet.freeze_panes = "C2"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _number(name: str, text: str) -> float | None:
    """A column's figure as a number; None for texts, names made of digits among them."""
    if not (name.endswith("_mm") or name in ("p_inside", "En")):
        return None
    try:
        return float(text)
    except ValueError:
        return None
