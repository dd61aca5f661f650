"""Are boxes read right, and never wrong as sure? Conditions x pens x marks; and what blank, doubled and smudged sheets give.

Run by hand: python -m tests.experiments.boxes_study [--sheets 250] [--jobs 2] [--paper a4] [--keep FILE] [--write]
What a run has read is judged again, by itself or with others, by --kept FILE FILE ... [--limit 0.98].
"""

from __future__ import annotations

import argparse
import pickle
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import numpy as np

from calib.finding.sheets import Finding, find_sheets
from calib.kit.answers import QUESTIONS
from calib.kit.kit import Paper, kit
from calib.outcome.files import write_atomic
from photomeasure.seen.answers import read as reading
from photomeasure.seen.answers.number import PrintNumber, read_number
from photomeasure.seen.answers.read import MARK_RATHER, NOTICED, SOMETHING, BoxChances, answers_by, box_chances
from tests.experiments.boxes_pictures import CONDITIONS, MARKS, PENS_MM, Condition, answers_of, ticked

CASES = ("one", "blank", "two", "smudge")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One sheet in a picture: how it was made, what was ticked (and smudged), and the chances that were read; None: not found."""

    condition: str
    case: str
    pen_mm: float
    mark: str
    answers: dict[str, tuple[str, ...]]
    smudged: tuple[str, str] | None
    chances: BoxChances | None
    number: str  # right, WRONG, unreadable, none


def one(paper: Paper, condition: Condition, case: str, seed: int) -> Look:
    rng = np.random.default_rng([seed, CONDITIONS.index(condition), CASES.index(case)])
    sheet = kit(paper).upright
    answers = answers_of(sheet, rng)
    smudged: tuple[str, str] | None = None
    if case == "blank":
        answers = {}
    elif case == "two":
        for question in QUESTIONS:
            values = [
                box.value for box in sheet.boxes if box.question == question and (box.value,) != answers[question]
            ]
            answers[question] = (*answers[question], str(rng.choice(values)))
    elif case == "smudge":
        asked = str(rng.choice(QUESTIONS))
        smudged = asked, str(rng.choice([box.value for box in sheet.boxes if box.question == asked]))
    picture = ticked(paper, condition, rng, answers, smudged)
    found = find_sheets(picture.grey)
    upright = found.of_role("upright") if isinstance(found, Finding) else None
    number = read_number(picture.grey, upright) if upright is not None else PrintNumber(number=None)
    said = "unreadable" if number.unreadable else "none" if number.number is None else "WRONG"
    return Look(
        condition=condition.name,
        case=case,
        pen_mm=picture.pen_mm,
        mark=picture.mark,
        answers=answers,
        smudged=smudged,
        chances=None if upright is None else _single(box_chances(picture.grey, upright)),
        number="right" if number.number == picture.number else said,
    )


def _single(each: BoxChances) -> BoxChances:
    """As small as it can be kept without another answer."""
    kept = {name: getattr(each, name).astype(np.float32) for name in ("mark", "doubtful", "excess")}
    return BoxChances(**kept, burnt=each.burnt)


def rows_of(paper: Paper, look: Look) -> list[tuple[str, ...]]:
    """(condition, case, pen, mark, question, outcome) of each question of one sheet."""
    what = (look.condition, look.case, f"{look.pen_mm:g}", look.mark)
    if look.chances is None:
        return [(*what, question, "not found") for question in QUESTIONS]
    rows: list[tuple[str, ...]] = []
    for answer in answers_by(kit(paper).upright.boxes, look.chances):
        truth = look.answers.get(answer.question, ())
        if answer.value is None:
            outcome = "blank" if answer.doubt is None else f"asked: {answer.doubt}"
        elif look.smudged == (answer.question, answer.value) and (answer.value,) != truth:
            outcome = "smudge taken"
        else:
            outcome = "right" if truth == (answer.value,) else "one of two" if answer.value in truth else "WRONG"
        rows.append((*what, answer.question, outcome))
    return rows


def _share(rows: list[tuple[str, ...]]) -> str:
    count = Counter(row[5] for row in rows)
    return ", ".join(f"{name} {100 * n / len(rows):.2f} %" for name, n in count.most_common())


def _light(condition: str) -> str:
    return next((light for light in ("shadow", "sun") if light in condition), "even")


def _by_mark(rows: list[tuple[str, ...]]) -> list[str]:
    """What was ticked once, by light, mark and pen."""
    lines = []
    for light in ("even", "shadow", "sun"):
        for mark in MARKS:
            for pen in PENS_MM:
                part = [
                    row
                    for row in rows
                    if row[1] == "one" and _light(row[0]) == light and row[2:4] == (f"{pen:g}", mark)
                ]
                if part:
                    lines.append(f"- {light}, {mark}, pen of {pen:g} mm, {len(part)} questions: {_share(part)}")
    return lines


def _boxes(paper: Paper, looks: list[Look], limit: float) -> str:
    """Boxes by themselves, of sheets ticked once: a ticked one taken for ticked, an empty one for empty, and what is neither."""
    count: Counter[str] = Counter()
    boxes = kit(paper).upright.boxes
    for look in looks:
        if look.case != "one" or look.chances is None:
            continue
        something = look.chances.mark + look.chances.doubtful
        for box, chance, mark in zip(boxes, something, look.chances.mark, strict=True):
            ticked = (box.value,) == look.answers.get(box.question, ())
            read = (
                "ticked" if chance >= limit and mark >= MARK_RATHER else "empty" if chance < NOTICED else "unreadable"
            )
            count["unreadable" if read == "unreadable" else f"{'ticked' if ticked else 'empty'} read as {read}"] += 1
    total = sum(count.values())
    return ", ".join(f"{name} {100 * n / total:.3f} %" for name, n in count.most_common()) + f" of {total}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", type=int, default=20)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--paper", default="a4")
    parser.add_argument("--cases", default=",".join(CASES))
    parser.add_argument("--keep", help="file for everything that was read, to try other limits on")
    parser.add_argument("--kept", nargs="+", type=Path, help="files of earlier runs in place of a new one")
    parser.add_argument("--limit", type=float, default=SOMETHING, help="chance from which on a box is taken")
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    others = max(1, options.sheets // 5)
    work = [
        (options.paper, condition, case, options.seed * 1_000_000 + n)
        for case in options.cases.split(",")
        for condition in CONDITIONS
        for n in range(options.sheets if case == "one" else others)
    ]
    if options.kept:
        looks = [look for path in options.kept for look in pickle.loads(path.read_bytes())]
    else:
        with ProcessPoolExecutor(options.jobs) as pool:
            looks = list(pool.map(one, *zip(*work, strict=True), chunksize=4))
    if options.keep:
        Path(options.keep).write_bytes(pickle.dumps(looks))
    with patch.object(reading, "SOMETHING", options.limit):
        rows = [row for look in looks for row in rows_of(options.paper, look)]
    numbers = Counter((look.condition, look.number) for look in looks)
    lines = ["## number of the print", "", *(f"- {name}: {said} {n}" for (name, said), n in sorted(numbers.items()))]
    for case in options.cases.split(","):
        of_case = [row for row in rows if row[1] == case]
        lines += [
            "",
            f"## {case}: {len(of_case) // len(QUESTIONS)} sheets, {len(of_case)} questions",
            "",
            f"all: {_share(of_case)}",
            "",
        ]
        for place, names in (
            (0, [c.name for c in CONDITIONS]),
            (2, [f"{pen:g}" for pen in PENS_MM]),
            (3, MARKS),
            (4, QUESTIONS),
        ):
            lines += [
                f"- {name}: {_share(part)}"
                for name in names
                if (part := [row for row in of_case if row[place] == name])
            ]
    lines += [
        "",
        "## one, light x mark x pen",
        "",
        *_by_mark(rows),
        "",
        f"box by box: {_boxes(options.paper, looks, options.limit)}",
    ]
    text = "\n".join(lines)
    print(text)
    if options.write:
        write_atomic(
            Path(__file__).with_suffix(".md"),
            f"# Boxes read from pictures\n\nWritten by `python -m tests.experiments.boxes_study --sheets {options.sheets}`.\n{text}\n",
        )


if __name__ == "__main__":
    main()
