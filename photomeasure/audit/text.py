"""The audit in plain words and as a document."""

from __future__ import annotations

from typing import Any

from calib.words.said import figures as figures_said
from calib.words.said import joined, said, said_many, say, shown
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
_GROUPED_BY = {
    "camera": said("camera"),
    "rule": said("rule"),
    "centre": said("centre"),
    "tape_class": said("tape class"),
}
_SHOWN = 10
_LOW = said(
    "check that the sheet's foot line stands on the ground (a gap under it reads low by as much), that both check bars "
    "are measured (a print larger than believed reads low), and that the tape is held upright (leaning, it reads high)."
)
_HIGH = said(
    "check that both check bars are measured and not just typed as the sheet says (a print smaller than believed reads high, the "
    "more the higher the coupling), that the sheet is not cut above its foot line and stands on hard ground, and that "
    "the tape starts at the ground."
)
_NARROW = said(
    "The intervals promise more than they hold: look at the records that disagree most, and at what they share: bars "
    "typed without measuring, a sheet that stood beside the coupling and not under it, ground that slopes, a mark "
    "placed in haste. Until it is found, go by the tape."
)
_WIDE = said(
    "The intervals are wider than these differences need. Nothing has to be done: errors that one print, one camera and "
    "one yard share do not scatter, but are in each interval."
)


def counted(ledger: Ledger) -> list[str]:
    """What was looked at, and what was not counted."""
    lines = [
        said_many(
            "{count} record with a photograph's figure and a tape's reading.",
            "{count} records with a photograph's figure and a tape's reading.",
            count=len(ledger.pairs),
        )
    ]
    aside = []
    if ledger.untaped:
        aside.append(said_many("{count} record without a tape", "{count} records without a tape", count=ledger.untaped))
    if ledger.refused:
        aside.append(
            said_many(
                "{count} record taped, but its photograph was refused",
                "{count} records taped, but their photographs were refused",
                count=ledger.refused,
            )
        )
    if ledger.repeated:
        aside.append(
            said_many(
                "{count} record made again since from the same photographs",
                "{count} records made again since from the same photographs",
                count=ledger.repeated,
            )
        )
    if ledger.other_files:
        aside.append(
            said_many(
                "{count} JSON file that is no record",
                "{count} JSON files that are no records",
                count=ledger.other_files,
            )
        )
    if aside:
        lines.append(said("Not counted: {listed}.", listed=joined(aside, "; ")))
    lines += [said("Not read: {problem}", problem=problem) for problem in (*ledger.no_records, *ledger.unreadable)]
    return lines


def too_few(ledger: Ledger) -> str:
    """What to say where nothing can be concluded."""
    return said(
        "Nothing can be concluded yet: it takes {least} tapes at least, {lacking} more. Tape the rigs that are photographed, "
        "and give the reading to measure (--tape MM, or when it asks).",
        least=MIN_TAPES,
        lacking=MIN_TAPES - len(ledger.pairs),
    )


def rows(found: Figures) -> list[tuple[str, str]]:
    """Label and sentence of each figure."""
    return [
        (said("Bias"), _bias(found)),
        ("RMS", said("{mm:.1f} mm between photograph and tape.", mm=found.rms_mm)),
        (
            "En",
            said(
                "{share} agree with their tape within what both claim (|En| <= 1).",
                share=_share(found.agreeing, found.n),
            ),
        ),
        (said("Coverage"), _coverage(found)),
        ("Birge", _birge(found)),
    ]


def _bias(found: Figures) -> str:
    size = said(
        "{bias:+.1f} mm, photograph less tape (95 % within {low:+.1f} to {high:+.1f} mm, u {u:.2f} mm)",
        bias=found.bias_mm,
        low=found.bias_mm - found.U_bias_mm,
        high=found.bias_mm + found.U_bias_mm,
        u=found.u_bias_mm,
    )
    if not found.biased:
        return said("{size}: none that {n} tapes could show.", size=size, n=found.n)
    if found.bias_mm > 0:
        return said("{size}: the photographs read {mm:.1f} mm high.", size=size, mm=found.bias_mm)
    return said("{size}: the photographs read {mm:.1f} mm low.", size=size, mm=-found.bias_mm)


def _share(part: int, n: int) -> str:
    return said("{part} of {n} ({percent:.0f} %)", part=part, n=n, percent=100 * part / n)


def _coverage(found: Figures) -> str:
    low, high = found.true_share
    about = said(
        "{share} tapes lie in the photograph's own 95 % interval; by so many, the share may truly be anything from {low:.0f} "
        "to {high:.0f} %. Expected {expected:.0f} %, as tapes err too",
        share=_share(found.inside, found.n),
        low=100 * low,
        high=100 * high,
        expected=100 * found.expected_share,
    )
    if found.expected_share > high:
        return said("{about}: too few.", about=about)
    if found.expected_share < low:
        return said("{about}: more than expected.", about=about)
    return said("{about}: as it should be.", about=about)


def _birge(found: Figures) -> str:
    low, high = found.birge_range
    about = said(
        "{birge:.2f}, expected {low:.2f} to {high:.2f} for {n} tapes",
        birge=found.birge,
        low=low,
        high=high,
        n=found.n,
    )
    if found.birge > high:
        return said("{about}: the differences scatter more than the intervals say.", about=about)
    if found.birge < low:
        return said("{about}: the differences scatter less than the intervals say.", about=about)
    return said("{about}: the scatter is as stated.", about=about)


def to_do(found: Figures) -> list[str]:
    """What to do where a figure is out; one sentence where none is."""
    told = []
    if found.biased and found.bias_mm > 0:
        told.append(said("Your photographs read {mm:.1f} mm high: {check}", mm=found.bias_mm, check=_HIGH))
    elif found.biased:
        told.append(said("Your photographs read {mm:.1f} mm low: {check}", mm=-found.bias_mm, check=_LOW))
    if found.too_narrow:
        told.append(_NARROW)
    elif found.too_wide:
        told.append(_WIDE)
    return told or [said("Nothing is out. Keep taping: more tapes see smaller faults.")]


def disagreeing(ledger: Ledger) -> list[str]:
    """The pairs with |En| > 1, worst first."""
    worst = sorted((p for p in ledger.pairs if abs(en_score(p)) > 1.0), key=lambda pair: -abs(en_score(pair)))
    lines = [_pair(pair) for pair in worst[:_SHOWN]]
    return (
        [*lines, said("and {more} more (--json FILE has them all)", more=len(worst) - _SHOWN)]
        if len(worst) > _SHOWN
        else lines
    )


def every(ledger: Ledger) -> list[str]:
    """One line for each pair of photograph and tape."""
    return [_pair(pair) for pair in ledger.pairs]


def _pair(pair: Pair) -> str:
    return said(
        "{file}: {height:.1f} \N{PLUS-MINUS SIGN} {U:.1f} mm, tape {tape:g}, {difference:+.1f} mm, En {en:+.2f}",
        file=pair.record_file,
        height=pair.height_mm,
        U=pair.U_mm,
        tape=pair.tape_mm,
        difference=difference_mm(pair),
        en=en_score(pair),
    )


def _header() -> str:
    bias = say("bias mm")
    return f"{say('group'):<30}{'n':>4}{bias:>14}{'RMS':>6}{'En<=1':>7}{say('inside'):>8}{'Birge':>7}"


def group_lines(ledger: Ledger) -> list[str]:
    """A table of fixed width: a star beside a bias that its tapes show, an exclamation mark where intervals are narrow."""
    found = grouped(ledger.pairs)
    rows = (
        _group(f"{shown(_GROUPED_BY.get(what, what))}: {shown(which)}", group) for (what, which), group in found.items()
    )
    return [_header(), *rows] if found else []


def _group(name: str, found: Figures) -> str:
    bias = f"{found.bias_mm:+.1f} \N{PLUS-MINUS SIGN} {found.U_bias_mm:.1f}{'*' if found.biased else ' '}"
    birge = f"{found.birge:.2f}{'!' if found.too_narrow else ' '}"
    cut = name if len(name) <= 29 else name[:26] + "..."
    agree, inside = (f"{100 * part / found.n:.0f} %" for part in (found.agreeing, found.inside))
    return f"{cut:<30}{found.n:>4}" + figures_said(f"{bias:>14}{found.rms_mm:>6.1f}{agree:>7}{inside:>8}{birge:>7}")


def group_notes(ledger: Ledger) -> list[str]:
    """What the marks in the table mean, of those that are in it."""
    found = grouped(ledger.pairs).values()
    notes = [
        (said("* a bias that so many tapes show (one group in twenty by chance)"), any(one.biased for one in found)),
        (said("! intervals too narrow"), any(one.too_narrow for one in found)),
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
