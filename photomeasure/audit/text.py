"""The audit in plain words and as a document."""

from __future__ import annotations

from typing import Any

from photomeasure.audit.figures import (
    MIN_TAPES,
    Figures,
    difference_mm,
    en_score,
    figures,
    grouped,
    is_inside,
)
from photomeasure.audit.ledger import Ledger, Pair

SCHEMA = "photomeasure/audit/1"
_SHOWN = 10
_LOW = (
    "check that the sheet's foot line stands on the ground (a gap under it reads low by as much), that both check bars "
    "are measured (a print larger than believed reads low), and that the tape is held upright (leaning, it reads high)."
)
_HIGH = (
    "check that both check bars are measured and not just typed as 150 (a print smaller than believed reads high, the "
    "more the higher the coupling), that the sheet is not cut above its foot line and stands on hard ground, and that "
    "the tape starts at the ground."
)
_NARROW = (
    "The intervals promise more than they hold: look at the records that disagree most, and at what they share: bars "
    "typed without measuring, a sheet that stood beside the coupling and not under it, ground that slopes, a mark "
    "placed in haste. Until it is found, go by the tape."
)
_WIDE = (
    "The intervals are wider than these differences need. Nothing has to be done: errors that one print, one camera and "
    "one yard share do not scatter, but are in each interval."
)


def counted(ledger: Ledger) -> list[str]:
    """What was looked at, and what was not counted."""
    n = len(ledger.pairs)
    lines = [f"{_many(n, 'record')} with a photograph's figure and a tape's reading."]
    aside = [
        (ledger.untaped, "record", "without a tape"),
        (ledger.refused, "record", "taped, but its photograph was refused"),
        (ledger.repeated, "record", "made again since from the same photographs"),
        (ledger.other_files, "JSON file", "that is no record"),
    ]
    said = [f"{_many(count, what)} {why}" for count, what, why in aside if count]
    if said:
        lines.append(f"Not counted: {'; '.join(said)}.")
    lines += [f"Not read: {problem}" for problem in (*ledger.no_records, *ledger.unreadable)]
    return lines


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def too_few(ledger: Ledger) -> str:
    """What to say where nothing can be concluded."""
    lacking = MIN_TAPES - len(ledger.pairs)
    return (
        f"Nothing can be concluded yet: it takes {MIN_TAPES} tapes at least, {lacking} more. "
        "Tape the rigs that are photographed, and give the reading to measure (--tape MM, or when it asks)."
    )


def rows(found: Figures) -> list[tuple[str, str]]:
    """Label and sentence of each figure."""
    low, high = found.birge_range
    return [
        ("Bias", _bias(found)),
        ("RMS", f"{found.rms_mm:.1f} mm between photograph and tape."),
        ("En", f"{_share(found.agreeing, found.n)} agree with their tape within what both claim (|En| <= 1)."),
        ("Coverage", _coverage(found)),
        ("Birge", f"{found.birge:.2f}, expected {low:.2f} to {high:.2f} for {found.n} tapes: {_birge(found)}."),
    ]


def _bias(found: Figures) -> str:
    interval = f"{found.bias_mm - found.U_bias_mm:+.1f} to {found.bias_mm + found.U_bias_mm:+.1f} mm"
    size = f"{found.bias_mm:+.1f} mm, photograph less tape (95 % within {interval}, u {found.u_bias_mm:.2f} mm)"
    if not found.biased:
        return f"{size}: none that {found.n} tapes could show."
    way = "high" if found.bias_mm > 0 else "low"
    return f"{size}: the photographs read {abs(found.bias_mm):.1f} mm {way}."


def _share(part: int, n: int) -> str:
    return f"{part} of {n} ({100 * part / n:.0f} %)"


def _coverage(found: Figures) -> str:
    low, high = (100 * share for share in found.true_share)
    said = (
        f"{_share(found.inside, found.n)} tapes lie in the photograph's own 95 % interval; by so many, the share "
        f"may truly be anything from {low:.0f} to {high:.0f} %. Expected {100 * found.expected_share:.0f} %, as tapes err too"
    )
    if found.expected_share > found.true_share[1]:
        return f"{said}: too few."
    return f"{said}: more than expected." if found.expected_share < found.true_share[0] else f"{said}: as it should be."


def _birge(found: Figures) -> str:
    low, high = found.birge_range
    if found.birge > high:
        return "the differences scatter more than the intervals say"
    return "the differences scatter less than the intervals say" if found.birge < low else "the scatter is as stated"


def to_do(found: Figures) -> list[str]:
    """What to do where a figure is out; one sentence where none is."""
    said = []
    if found.biased:
        way, what = ("high", _HIGH) if found.bias_mm > 0 else ("low", _LOW)
        said.append(f"Your photographs read {abs(found.bias_mm):.1f} mm {way}: {what}")
    if found.too_narrow:
        said.append(_NARROW)
    elif found.too_wide:
        said.append(_WIDE)
    return said or ["Nothing is out. Keep taping: more tapes see smaller faults."]


def disagreeing(ledger: Ledger) -> list[str]:
    """The pairs with |En| > 1, worst first."""
    worst = sorted((p for p in ledger.pairs if abs(en_score(p)) > 1.0), key=lambda pair: -abs(en_score(pair)))
    lines = [_pair(pair) for pair in worst[:_SHOWN]]
    return [*lines, f"and {len(worst) - _SHOWN} more (--json FILE has them all)"] if len(worst) > _SHOWN else lines


def every(ledger: Ledger) -> list[str]:
    """One line for each pair of photograph and tape."""
    return [_pair(pair) for pair in ledger.pairs]


def _pair(pair: Pair) -> str:
    return (
        f"{pair.record_file}: {pair.height_mm:.1f} \N{PLUS-MINUS SIGN} {pair.U_mm:.1f} mm, tape {pair.tape_mm:g}, "
        f"{difference_mm(pair):+.1f} mm, En {en_score(pair):+.2f}"
    )


HEADER = f"{'group':<30}{'n':>4}{'bias mm':>14}{'RMS':>6}{'En<=1':>7}{'inside':>8}{'Birge':>7}"


def group_lines(ledger: Ledger) -> list[str]:
    """A table of fixed width: a star beside a bias that its tapes show, an exclamation mark where intervals are narrow."""
    found = grouped(ledger.pairs)
    return [HEADER, *(_group(f"{what}: {which}", group) for (what, which), group in found.items())] if found else []


def _group(name: str, found: Figures) -> str:
    bias = f"{found.bias_mm:+.1f} \N{PLUS-MINUS SIGN} {found.U_bias_mm:.1f}{'*' if found.biased else ' '}"
    birge = f"{found.birge:.2f}{'!' if found.too_narrow else ' '}"
    cut = name if len(name) <= 29 else name[:26] + "..."
    agree, inside = (f"{100 * part / found.n:.0f} %" for part in (found.agreeing, found.inside))
    return f"{cut:<30}{found.n:>4}{bias:>14}{found.rms_mm:>6.1f}{agree:>7}{inside:>8}{birge:>7}"


def group_notes(ledger: Ledger) -> list[str]:
    """What the marks in the table mean, of those that are in it."""
    found = grouped(ledger.pairs).values()
    notes = [
        ("* a bias that so many tapes show (one group in twenty by chance)", any(one.biased for one in found)),
        ("! intervals too narrow", any(one.too_narrow for one in found)),
    ]
    return [note for note, there in notes if there]


def document(ledger: Ledger) -> dict[str, Any]:
    """For programs: the figures, the groups, every pair, and what was not counted; figures null below the least number."""
    enough = len(ledger.pairs) >= MIN_TAPES
    whole = figures(ledger.pairs) if enough else None
    return {
        "schema": SCHEMA,
        "n": len(ledger.pairs),
        "figures": None if whole is None else _figures(whole),
        "advice": [too_few(ledger)] if whole is None else to_do(whole),
        "groups": [
            {"by": what, "group": which, **_figures(group)}
            for (what, which), group in (grouped(ledger.pairs) if enough else {}).items()
        ],
        "pairs": [_entry(pair) for pair in ledger.pairs],
        "not_counted": {
            "without_tape": ledger.untaped,
            "refused": ledger.refused,
            "made_again": ledger.repeated,
            "no_records": ledger.other_files,
            "not_read": [*ledger.no_records, *ledger.unreadable],
        },
    }


def _figures(found: Figures) -> dict[str, Any]:
    return {
        "n": found.n,
        "bias_mm": found.bias_mm,
        "u_bias_mm": found.u_bias_mm,
        "U_bias_mm": found.U_bias_mm,
        "biased": found.biased,
        "rms_mm": found.rms_mm,
        "en_within_1": found.agreeing / found.n,
        "coverage": found.inside / found.n,
        "coverage_interval": list(found.true_share),
        "coverage_expected": found.expected_share,
        "birge": found.birge,
        "birge_range": list(found.birge_range),
        "too_narrow": found.too_narrow,
        "too_wide": found.too_wide,
    }


def _entry(pair: Pair) -> dict[str, Any]:
    return {
        "record": str(pair.record_file),
        "made": pair.made,
        "height_mm": pair.height_mm,
        "U_mm": pair.U_mm,
        "tape_mm": pair.tape_mm,
        "u_tape_mm": pair.u_tape_mm,
        "tape_class": pair.tape_class,
        "difference_mm": difference_mm(pair),
        "en": en_score(pair),
        "inside": is_inside(pair),
        "centre": pair.centre,
        "camera": pair.camera,
        "rule": pair.rule,
    }
