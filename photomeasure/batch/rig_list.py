"""A list of rigs in a CSV file: one row a photograph, several rows of one rig together; errors name line and column."""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from calib.outcome.errors import InputError
from calib.outcome.files import is_file
from calib.outcome.reading import text_of
from calib.words.said import joined, said
from photomeasure.asked.case import MOST_COLUMNS
from photomeasure.asked.stated import Stated
from photomeasure.batch.addresses import is_address, path_of
from photomeasure.batch.columns import COLUMNS, FURTHER, NEEDED, OF_A_PHOTO, OF_THE_CASE, PATHS
from photomeasure.batch.rigs import Grouping, Rig, refuse_same_names
from photomeasure.batch.rows import COLUMNS_OF_TABLE
from photomeasure.rules.load import available_rules

LARGEST_FILE_BYTES = 20_000_000
MOST_FAULTS = 20
_FORM = said("a CSV file (UTF-8) whose first line names columns: {listed}", listed=", ".join(COLUMNS))
# what no further column may be mistaken for: all that something is worked out from
_WORKED_WITH = frozenset(COLUMNS) - {*NEEDED, *OF_THE_CASE}
_ALIKE = 0.75
_MEND_THAT, _MEND_THOSE = said("mend that cell"), said("mend those cells")


@dataclass(slots=True, kw_only=True)
class _Gathered:
    """One rig while its rows are read; said: value and line by column."""

    line: int
    photos: list[Path] = field(default_factory=list)
    addresses: list[str | None] = field(default_factory=list)
    centres: list[tuple[float, float] | None] = field(default_factory=list)
    said: dict[str, tuple[Any, int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fault:
    """One thing that is wrong: where ("line 3, column bar_x_mm"), what, and what was expected."""

    where: str
    what: str
    expected: str
    remedy: str = _MEND_THAT


class _WrongCellError(Exception):
    def __init__(self, fault: _Fault) -> None:
        super().__init__(fault.what)
        self.fault = fault


def read_rig_list(path: Path) -> Grouping:
    """Rigs in the order of their first rows. Paths are relative to the list's folder, addresses stand for themselves.

    Raises InputError that names all wrong cells, up to `MOST_FAULTS`.
    """
    gathered: dict[str, _Gathered] = {}
    faults: list[_Fault] = []
    for line, cells in _rows(path, faults):
        row: dict[str, Any] = {}
        for name, text in cells.items():
            if text:
                try:
                    row[name] = _value(path, line, name, text)
                except _WrongCellError as error:
                    faults.append(error.fault)
            elif name in NEEDED:
                faults.append(_fault(line, name, said("it is empty"), COLUMNS[name].expected))
        faults += _half_a_centre(line, cells)
        if any(name not in row for name in NEEDED):
            continue
        rig = gathered.setdefault(row["rig"], _Gathered(line=line))
        address = row["photo"] if is_address(row["photo"]) else None
        rig.addresses.append(address)
        rig.photos.append(path.parent / row["photo"] if address is None else path_of(address))
        rig.centres.append((row["centre_x"], row["centre_y"]) if {"centre_x", "centre_y"} <= row.keys() else None)
        faults += [
            fault for name, value in row.items() if name not in OF_A_PHOTO for fault in _said(line, rig, name, value)
        ]
    if faults:
        raise _all_wrong(path, faults)
    if not gathered:
        raise InputError(
            said("{path} lists no rig.", path=path), expected=_FORM, remedy=said("write one row for each photograph")
        )
    rigs = [_rig(path, name, rig) for name, rig in gathered.items()]
    refuse_same_names(rigs)
    further = list(dict.fromkeys(column for rig in rigs for column, _ in rig.said.more or ()))
    return Grouping(
        rigs=tuple(rigs),
        how=said("Rows of one name in the column rig are one rig, one photograph a row."),
        aside=(said("Carried through to record and table, used for no figure: {listed}.", listed=", ".join(further)),)
        if further
        else (),
    )


def _rows(path: Path, faults: list[_Fault]) -> Iterator[tuple[int, dict[str, str]]]:
    """Line number and cells by column; blank lines are passed over, and one with more or fewer cells goes into `faults`."""
    text = _text(path).replace("\r\n", "\n").replace("\r", "\n")  # a return alone ends a line in some lists
    first = text.partition("\n")[0]
    sign = next((sign for sign in ";\t" if sign in first and "," not in first), ",")
    reader = csv.reader(io.StringIO(text), delimiter=sign, strict=True)
    try:
        header = [_column(name) for name in next(reader, [])]
        _check_header(path, header)
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(header):
                fault = _Fault(
                    where=said("line {line_num}", line_num=reader.line_num),
                    what=said("{cells} cells under {header} columns", cells=len(cells), header=len(header)),
                    expected=said("as many cells as the first line has columns"),
                    remedy=said("mend that line; a text with a comma in it needs double quotes"),
                )
                faults.append(fault)
                continue
            yield reader.line_num, {name: cell.strip() for name, cell in zip(header, cells, strict=True)}
    except csv.Error as error:
        raise InputError(
            said("{path}, line {line_num}: {error}.", path=path, line_num=reader.line_num, error=error),
            expected=_FORM,
            remedy=said("mend that line"),
        ) from error


def _text(path: Path) -> str:
    try:
        return text_of(path, LARGEST_FILE_BYTES)
    except OSError as error:
        raise InputError(
            said("Cannot open {path}: {value}.", path=path, value=error.strerror or error),
            expected=said("a folder of photographs, or a list of rigs (CSV)"),
            remedy=said("check the path and its spelling; split a list that is too large"),
        ) from error
    except UnicodeDecodeError as error:
        raise InputError(
            said("{path} is not UTF-8 text.", path=path), expected=_FORM, remedy=said("save it as CSV UTF-8")
        ) from error


def _check_header(path: Path, header: list[str]) -> None:
    if len(header) > MOST_COLUMNS + len(COLUMNS):
        raise InputError(
            said("{path}, line 1 has {header} columns.", path=path, header=len(header)),
            expected=_FORM,
            remedy=said("take some out"),
        )
    for number, name in enumerate(header, start=1):
        if name not in COLUMNS:
            _check_further(path, number, name)
        if name in header[: number - 1]:
            raise InputError(
                said("{path}, line 1, column {number}: {name} stands twice.", path=path, number=number, name=name),
                expected=said("each column once"),
                remedy=said("take one out"),
            )
    for name in NEEDED:
        if name not in header:
            raise InputError(
                said("{path}, line 1: the column {name} is missing.", path=path, name=name),
                expected=_FORM,
                remedy=said("add it"),
            )


def _column(name: str) -> str:
    """A known column in small letters, one of the list's own as it is written."""
    return name.strip().lower() if name.strip().lower() in COLUMNS else name.strip()


def _check_further(path: Path, number: int, name: str) -> None:
    """A column of the list's own is carried through; one that could be meant for a known one is not, nor a nameless one."""
    plain = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
    meant = [f"{plain}_mm"] if f"{plain}_mm" in COLUMNS else []  # before all that only looks like it
    meant += difflib.get_close_matches(plain, COLUMNS, n=1, cutoff=_ALIKE)
    meant += [known for known in sorted(_WORKED_WITH) if plain and (known + "_").startswith(plain + "_")]
    if not plain or meant or {plain, f"{plain}_mm"} & COLUMNS_OF_TABLE or len(name) > 60 or not name.isprintable():
        values = {"path": path, "number": number, "name": repr(name)}
        raise InputError(
            said(
                "{path}, line 1, column {number}: there is no column {name}; did you mean {meant}?",
                **values,
                meant=meant[0],
            )
            if meant
            else said("{path}, line 1, column {number}: there is no column {name}", **values),
            expected=said("{listed}; further columns under other names are carried through", listed=", ".join(COLUMNS)),
            remedy=said("rename or take out that column"),
        )


def _value(path: Path, line: int, name: str, text: str) -> Any:
    try:
        value = COLUMNS.get(name, FURTHER).parse(text)
    except ValueError:
        raise _WrongCellError(
            _fault(line, name, said("it is {text}", text=repr(text)), COLUMNS.get(name, FURTHER).expected)
        ) from None
    if name == "rule" and value not in available_rules() and not is_file(path.parent / value):
        expected = said("{listed}, or a rule file that is there", listed=", ".join(available_rules()))
        raise _WrongCellError(_fault(line, name, said("it is {text}", text=repr(text)), expected))
    if name in PATHS and not is_file(path.parent / value):
        raise _WrongCellError(
            _fault(line, name, said("it is {text}, which is not there", text=repr(text)), COLUMNS[name].expected)
        )
    return value


def _fault(line: int, column: str, what: str, expected: str) -> _Fault:
    return _Fault(
        where=said("line {line}, column {column}", line=line, column=column),
        what=what,
        expected=expected,
    )


def _all_wrong(path: Path, faults: list[_Fault]) -> InputError:
    """One error over all that is wrong."""
    first = faults[0]
    if len(faults) == 1:
        return InputError(
            said("{path}, {where}: {what}.", path=path, where=first.where, what=first.what),
            expected=first.expected,
            remedy=first.remedy,
        )
    shown = [
        said("{where}: {what}; expected {expected}", where=fault.where, what=fault.what, expected=fault.expected)
        for fault in faults[:MOST_FAULTS]
    ]
    more = len(faults) - len(shown)
    every = joined([*shown, *([said("and {more} more", more=more)] if more else [])], "\n    ")
    remedies = dict.fromkeys(_MEND_THOSE if fault.remedy == _MEND_THAT else fault.remedy for fault in faults)
    return InputError(
        said("{path} has {faults} wrong places:\n    {every}", path=path, faults=len(faults), every=every),
        expected=said("what is said beside each"),
        remedy=joined(remedies, "; "),
    )


def _half_a_centre(line: int, cells: dict[str, str]) -> list[_Fault]:
    """One of two coordinates is written."""
    empty = [name for name in ("centre_x", "centre_y") if not cells.get(name)]
    expected = said("both coordinates of the centre, or neither")
    return [_fault(line, empty[0], said("it is empty"), expected)] if len(empty) == 1 else []


def _said(line: int, rig: _Gathered, name: str, value: Any) -> list[_Fault]:
    """Keep what is said of a rig; a fault where another row of it said otherwise."""
    before = rig.said.setdefault(name, (value, line))
    if before[0] == value:
        return []
    what = said(
        "it is {value}, but {other} in line {line} of the same rig",
        value=_shown(value),
        other=_shown(before[0]),
        line=before[1],
    )
    return [_fault(line, name, what, said("one value a rig (it may be left out in all its rows but one)"))]


def _shown(value: Any) -> str:
    return (said("yes") if value else said("no")) if isinstance(value, bool) else str(value)


def _rig(path: Path, name: str, rig: _Gathered) -> Rig:
    stated = {column: value for column, (value, _) in rig.said.items()}
    stated |= {column: path.parent / stated[column] for column in PATHS if column in stated}
    if "rule" in stated and stated["rule"] not in available_rules():
        stated["rule"] = str(path.parent / stated["rule"])
    more = tuple((column, stated.pop(column)) for column in list(stated) if column not in COLUMNS)
    picked = any(centre is not None for centre in rig.centres)
    return Rig(
        name=name,
        photos=tuple(rig.photos),
        addresses=tuple(rig.addresses) if any(rig.addresses) else (),
        centres_px=tuple(rig.centres) if picked else (),
        said=Stated(**stated, more=more or None),
        where=said("{path}, line {line}", path=path, line=rig.line),
    )
