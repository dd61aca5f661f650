"""Two records of the same photographs, figure by figure and sentence by sentence.

Tolerance: what a reader of the record could see. Another version of a numerical library may add up in another order and
change the last bits of every figure; a difference that does not reach the last printed digit is none that a decision can
rest on, one that does is reported. What was stated (rule, state, readings, picked centres) and every word has to be the same
exactly, and a number in a sentence too, unless it is the rounding of a computed figure that came out otherwise within its
tolerance.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from calib.words.said import said
from photomeasure.record.schema import InputRow, Record
from photomeasure.uncertainty.printed import decimals

TOLERANCE_SENTENCE = said(
    "Figures count as the same within half of the last digit that is printed: with another version of a numerical "
    "library the last bits of a figure may come out otherwise, and nobody decides by them."
)
# when and with what it was made, and where the photographs lay, is no figure of the measurement: digests tell (`record.own_digests`)
_NOT_COMPARED = frozenset({"computed", "version", "software", "asked", "digests"})
# what records of earlier versions of the program do not hold: nothing there is nothing to compare with
_LATER = re.compile(
    r"photographed$|said$|facts|rests_on|print_number$|second_sheet|photos\[\d+\]\.(taken|sheet_px)|before$|ball$|stand_test$|"
    r"tape\.(height_mm|verdict|p_inside|together|withdrawn)\b"
)
# kept rounded in the record: one unit of the digit that is kept
_ROUNDED = {
    "distance_mm": 1.0, "lens_height_mm": 1.0, "focal_px": 0.1, "u_focal_px": 0.1, "cell_px": 0.01, "blur_px": 0.01,
}  # fmt: skip
# numbers that were stated, or are laid down, and not worked out from photographs
_STATED = re.compile(
    r"rule\.(low_mm|high_mm|decision_number)$|state\.|tape\.(reading_mm|flat_mm)$|coverage$|(tape\.withdrawn\.)?adjustment\.confidence$"
)
_PROBABILITIES = frozenset({"p_inside", "p_above", "p_below", "share", "confidence", "coverage"})
_HALF_PERMILLE = 0.0005  # probabilities are printed to 0.1 %
_HALF_MICROMETRE = 0.0005  # mm; contributions are printed to three decimals
_HALF_HUNDREDTH = 0.005  # En and k are printed to two decimals
_PIXELS = 0.05  # a mark is typed to a tenth of a pixel
_INPUT_SHARE = 0.01  # of its own u, of an input told by the photographs (evaluation A)
_KNOWN_SHARE = 1e-6  # of what other knowledge gave (evaluation B): nothing in the photographs moves it
_OTHER_SHARE = 0.001
_NOTHING = 1e-6
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
# what sentences make of a figure: as it is, without its sign, in per cent, in metres, per mille, what is left to 1
_SAID_AS = (1.0, -1.0, 100.0, -100.0, 0.001, 1000.0)
_TIE = 1e-6  # relative; where a figure stands on the edge between two roundings


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedValue:
    """One key whose value is not the same. change: now less recorded, for numbers."""

    key: str
    recorded: Any
    now: Any
    change: float | None = None
    tolerance: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsCompared:
    """figures, sentences: how many were compared; identical: bit for bit; largest_mm: of all lengths, with its key."""

    figures: int
    sentences: int
    identical: bool
    largest_mm: float
    largest_key: str | None
    differing: tuple[ChangedValue, ...]


def compare(recorded: Record, now: Record) -> RecordsCompared:
    """Every key of the two, but for what says when, where and with what they were made."""
    half_digit = 0.5 * 10.0 ** -decimals(recorded.U_mm) if recorded.U_mm is not None else 0.05
    return compared(
        recorded,
        now,
        tolerance=lambda key, value: _tolerance(key, value, half_digit, recorded),
        stated=lambda key: _is_stated(key, recorded),
    )


def compared(
    recorded: BaseModel, now: BaseModel, *, tolerance: Callable[[str, float], float], stated: Callable[[str], bool]
) -> RecordsCompared:
    """Two records of one kind, which have budget, inputs and photos.

    tolerance: of a figure, by its key and recorded value; stated: whether a key was said by a person, and not worked out.
    """
    before, after = _content(recorded), _content(now)
    # records of another version, and those without sentences to tell in another language, which are older than these are
    earlier = getattr(recorded, "version", None) != getattr(now, "version", None) or not before.get("said")
    if earlier:
        # versions differ in which sentences can be told in another language; each text is compared where it stands
        both = before["said"].keys() & after["said"].keys()
        for content in (before, after):
            content["said"] = {name: row for name, row in content["said"].items() if name in both}
    pairs = list(leaves("", before, after))
    numbers = [(key, a, b) for key, a, b in pairs if is_number(a) and is_number(b)]
    # a number in a sentence may be another only where a figure is
    computed = [(a, b) for key, a, b in numbers if isinstance(a, float) and a != b and not stated(key)]
    lengths = [(abs(b - a), key) for key, a, b in numbers if key.endswith("_mm") or key.startswith("interval_mm")]
    largest, largest_key = max(lengths, default=(0.0, None), key=lambda pair: pair[0])
    differing = [
        _difference(key, a, b, tolerance, computed)
        for key, a, b in pairs
        if (a != b or type(a) is not type(b)) and not (earlier and a in (None, []) and _LATER.match(key))
    ]
    return RecordsCompared(
        figures=len(numbers),
        sentences=sum(isinstance(a, str) for _, a, _ in pairs),
        identical=not differing,
        largest_mm=largest,
        largest_key=largest_key if largest > 0.0 else None,
        differing=tuple(found for found in differing if found is not None),
    )


def _content(record: BaseModel) -> dict[str, Any]:
    """What is compared; rows of a table by their quantity, since near equals may change places."""
    content = {k: v for k, v in record.model_dump(by_alias=True, mode="json").items() if k not in _NOT_COMPARED}
    for table in ("budget", "inputs"):
        content[table] = _by_quantity(content[table])
    told: dict[str, dict[str, Any]] = {}
    for row in content.get("said", ()):
        alike = sum(other["id"] == row["id"] for other in told.values())
        told[f"{row['id']} {alike}"] = row
    content["said"] = told
    content["photos"] = [{k: v for k, v in photo.items() if k != "file"} for photo in content["photos"]]
    return content


def _by_quantity(rows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """Rows by their quantity; where several are of one quantity, with their number among these."""
    found: dict[str, dict[str, Any]] = {}
    seen: Counter[str] = Counter()
    for row in rows:
        quantity = row["quantity"]
        seen[quantity] += 1
        found[quantity if seen[quantity] == 1 else f"{quantity} ({seen[quantity]})"] = row
    return found


def leaves(key: str, one: Any, other: Any) -> Iterator[tuple[str, Any, Any]]:
    """Leaves of two trees side by side; where one has a branch that the other lacks, None stands for it."""
    if isinstance(one, dict) and isinstance(other, dict):
        for name in dict.fromkeys((*one, *other)):
            yield from leaves(f"{key}.{name}" if key else name, one.get(name), other.get(name))
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for number, (a, b) in enumerate(zip(one, other, strict=True)):
            yield from leaves(f"{key}[{number + 1}]", a, b)
    else:
        yield key, one, other


def is_number(value: Any) -> bool:
    """Whether a value is a figure, and no yes or no."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _is_stated(key: str, record: Record) -> bool:
    picked = record.centre is not None and record.centre.source == "pick"
    return bool(_STATED.match(key)) or (picked and key.startswith("centre.px"))


def _difference(
    key: str,
    recorded: Any,
    now: Any,
    tolerance: Callable[[str, float], float],
    computed: list[tuple[float, float]],
) -> ChangedValue | None:
    """None where the two are the same to a reader."""
    if is_number(recorded) and is_number(now):
        allowed, change = tolerance(key, recorded), float(now - recorded)
        if abs(change) <= allowed:
            return None
        return ChangedValue(key=key, recorded=recorded, now=now, change=change, tolerance=allowed)
    if isinstance(recorded, str) and isinstance(now, str) and _reads_the_same(recorded, now, computed):
        return None
    return ChangedValue(key=key, recorded=recorded, now=now)


def _tolerance(key: str, recorded: float, half_digit: float, record: Record) -> float:
    if isinstance(recorded, int) or _is_stated(key, record):
        return 0.0
    last = key.rsplit(".", 1)[-1]
    name = last.split("[", 1)[0]
    if name in _ROUNDED:
        return _ROUNDED[name] * (1.0 + 1e-9)
    if name.endswith("_mm"):
        return _HALF_MICROMETRE if key.startswith(("budget.", "inputs.")) or key == "tape.u_mm" else half_digit
    if name in _PROBABILITIES:
        return _HALF_PERMILLE
    if name in ("En", "coverage_factor"):
        return _HALF_HUNDREDTH
    if name in ("px", "sheet_px"):
        return _PIXELS
    if key.startswith("inputs.") and name in ("value", "u"):
        row = InputRow.model_validate(
            _by_quantity([row.model_dump() for row in record.inputs])[key[7:].rsplit(".", 1)[0]]
        )
        return _INPUT_SHARE * row.u if row.evaluation == "A" else _KNOWN_SHARE * abs(recorded)
    if key.startswith("said."):  # what its sentence was rounded from; the sentence itself is compared too
        return max(_OTHER_SHARE * abs(recorded), _NOTHING)
    return _OTHER_SHARE * abs(recorded)


def _reads_the_same(one: str, other: str, computed: list[tuple[float, float]]) -> bool:
    """The same words; numbers too, unless each is the rounding of one computed figure, as recorded and as it is now."""
    if _NUMBER.sub("#", one) != _NUMBER.sub("#", other):
        return False
    return all(
        a == b or (_decimals(a) == _decimals(b) and any(_rounds(a, was, b, now) for was, now in computed))
        for a, b in zip(_NUMBER.findall(one), _NUMBER.findall(other), strict=True)
    )


def _rounds(a: str, was: float, b: str, now: float) -> bool:
    """Whether the printed a is `was`, and b `now`, in one of the ways in which sentences say figures."""
    half = 0.5 * 10.0 ** -_decimals(a)
    return any(
        abs(float(a) - (rest + factor * was)) <= half + _TIE * abs(factor * was)
        and abs(float(b) - (rest + factor * now)) <= half + _TIE * abs(factor * now)
        for factor in _SAID_AS
        for rest in ((0.0, 100.0) if factor == -100.0 else (0.0,))
    )


def _decimals(number: str) -> int:
    return len(number.partition(".")[2])
