"""Are boxes read right, and never wrong as sure? Conditions x pens x marks; and what blank, doubled and smudged sheets give.

Run by hand: python -m tests.experiments.boxes_study [--sheets 250] [--jobs 2] [--paper a4] [--write]
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from calib.finding.sheets import Finding, find_sheets
from calib.kit.answers import QUESTIONS
from calib.kit.kit import Paper, kit
from calib.outcome.files import write_atomic
from photomeasure.seen.answers.read import read_answers
from tests.experiments.boxes_pictures import CONDITIONS, MARKS, PENS_MM, Condition, answers_of, ticked

CASES = ("one", "blank", "two", "smudge")


def one(paper: Paper, condition: Condition, case: str, seed: int) -> list[tuple[str, ...]]:
    """(condition, case, pen, mark, question, outcome) of each question of one sheet."""
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
        question = str(rng.choice(QUESTIONS))
        smudged = question, str(rng.choice([box.value for box in sheet.boxes if box.question == question]))
    picture = ticked(paper, condition, rng, answers, smudged)
    what = (condition.name, case, f"{picture.pen_mm:g}", picture.mark)
    found = find_sheets(picture.grey)
    upright = found.of_role("upright") if isinstance(found, Finding) else None
    if upright is None:
        return [(*what, question, "not found") for question in QUESTIONS]
    rows = []
    for answer in read_answers(picture.grey, upright):
        truth = answers.get(answer.question, ())
        if answer.value is None:
            outcome = "blank" if answer.doubt is None else f"asked: {answer.doubt}"
        elif smudged is not None and smudged == (answer.question, answer.value) != (answer.question, *truth):
            outcome = "smudge taken"
        else:
            outcome = "right" if truth == (answer.value,) else "one of two" if answer.value in truth else "WRONG"
        rows.append((*what, answer.question, outcome))
    return rows


def _share(rows: list[tuple[str, ...]]) -> str:
    count = Counter(row[5] for row in rows)
    return ", ".join(f"{name} {100 * n / len(rows):.2f} %" for name, n in count.most_common())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sheets", type=int, default=20)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--paper", default="a4")
    parser.add_argument("--cases", default=",".join(CASES))
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    others = max(1, options.sheets // 5)
    work = [
        (options.paper, condition, case, options.seed * 1_000_000 + n)
        for case in options.cases.split(",")
        for condition in CONDITIONS
        for n in range(options.sheets if case == "one" else others)
    ]
    with ProcessPoolExecutor(options.jobs) as pool:
        rows = [row for part in pool.map(one, *zip(*work, strict=True), chunksize=4) for row in part]
    lines = []
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
    text = "\n".join(lines)
    print(text)
    if options.write:
        write_atomic(
            Path(__file__).with_suffix(".md"),
            f"# Boxes read from pictures\n\nWritten by `python -m tests.experiments.boxes_study --sheets {options.sheets}`.\n{text}\n",
        )


if __name__ == "__main__":
    main()
