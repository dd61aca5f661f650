"""What comes of a photograph that was made wrong: one outcome each, and a table of them; shared by `hard_study` and `hard_stances`."""

from __future__ import annotations

import argparse
import json
import tomllib
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from multiprocessing import get_context
from pathlib import Path

from photomeasure.pipeline import Result
from photomeasure.seen.look import Refused

MANY_NOTES = 3
PARTS = 12
KINDS = ("inside, sure", "inside, in doubt", "refused", "outside, in doubt", "outside, said beside")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One measurement of one edited picture. rests_on: sentences on what the
    photograph cannot show."""

    what: str
    rig: str
    centre: str
    refused: str = ""
    error_mm: float = 0.0
    U_mm: float = 1.0
    sure: bool = False
    notes: int = 0
    why: tuple[str, ...] = ()
    rests_on: int = 0

    @property
    def inside(self) -> bool:
        return abs(self.error_mm) <= self.U_mm

    @property
    def kind(self) -> str:
        if self.refused:
            return "refused"
        sure = "sure" if self.sure else "in doubt"
        return f"{'inside' if self.inside else 'outside'}, {'said beside' if self.sure and self.rests_on and not self.inside else sure}"


def of_result(done: Result | Refused, what: str, rig: str, centre: str, height_mm: float) -> Outcome:
    if isinstance(done, Refused):
        return Outcome(what=what, rig=rig, centre=centre, refused=done.refusal.code)
    low, high = done.expanded.interval_mm
    return Outcome(
        what=what,
        rig=rig,
        centre=centre,
        error_mm=round((low + high) / 2.0 - height_mm, 3),
        U_mm=round((high - low) / 2.0, 3),
        sure=not done.doubts,
        notes=len(done.warnings),
        why=(*(str(one.why)[:60] for one in done.doubts), *("note: " + str(note)[:60] for note in done.warnings)),
    )


def table(outcomes: Iterable[Outcome], rows: Sequence[tuple[str, str]]) -> str:
    """A line each row (what, what came of it before): how many of each kind, the worst error over its U, codes of refusals.

    rows[0] is the picture as it was: where that is outside, which one in twenty must be, the rig is left out.
    """
    all_of = list(outcomes)
    unlucky = {(one.rig, one.centre) for one in all_of if one.what == rows[0][0] and not one.refused and not one.inside}
    all_of = [one for one in all_of if (one.rig, one.centre) not in unlucky]
    lines = [
        f"| what was done | then | {' | '.join(KINDS)} | **sure and wrong** | sure beside {MANY_NOTES} notes | worst error / U "
        "| refused as |",
        "|---" * (len(KINDS) + 6) + "|",
    ]
    for what, then in rows:
        group = [one for one in all_of if one.what == what]
        if not group:
            continue
        kinds = Counter(one.kind for one in group)
        wrong = kinds["outside, sure"]
        worst = max((abs(one.error_mm) / one.U_mm for one in group if not one.refused), default=0.0)
        many = sum(one.sure and one.notes >= MANY_NOTES for one in group)
        codes = Counter(one.refused for one in group if one.refused)
        cells = [
            what,
            then,
            *(str(kinds[kind]) for kind in KINDS),
            f"**{wrong}**" if wrong else "0",
            str(many),
            f"{worst:.2f}",
        ]
        lines.append(
            "| " + " | ".join([*cells, ", ".join(f"{code} {number}" for code, number in codes.items())]) + " |"
        )
    return "\n".join(lines)


def run(what: str, of_rig: Callable[[tuple[str, int]], list[Outcome]], rows: Sequence[tuple[str, str]]) -> None:
    """The study's command line: of_rig by the path of a truth file and which of PARTS of the rows, in processes of their own."""
    parser = argparse.ArgumentParser(description=what.splitlines()[0])
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--only", default="", help="rigs whose names hold this")
    parser.add_argument("--rigs", type=int, default=1000, help="at most so many of each folder, spread over it")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="every outcome, a line of JSON each")
    options, _ = parser.parse_known_args()
    told: list[Path] = []
    for folder in options.folders:
        own = [path for path in sorted(folder.glob("*.toml")) if options.only in path.stem]
        own = [path for path in own if len(tomllib.loads(path.read_text(encoding="utf-8"))["files"]) == 1]
        told += own[:: max(1, -(-len(own) // options.rigs))]
    outcomes: list[Outcome] = []
    with get_context("spawn").Pool(options.workers) as pool:
        for found in pool.imap_unordered(of_rig, [(str(path), part) for path in told for part in range(PARTS)]):
            outcomes += found
            if options.keep is not None:
                with options.keep.open("a") as stream:
                    stream.writelines(json.dumps(asdict(one)) + "\n" for one in found)
    for one in outcomes:
        if one.kind == "outside, sure" or (one.sure and one.notes >= MANY_NOTES):
            print(
                f"{one.what}; {one.rig}, {one.centre}: {one.error_mm:+.2f} by {one.U_mm:.2f}, {one.kind}, {list(one.why)}"
            )
    print(f"\n{len(told)} rigs, {len(outcomes)} measurements\n\n{table(outcomes, rows)}")
