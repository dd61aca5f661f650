"""Does the interval hold the truth, and what does the tool notice when users do otherwise? By hand; minutes.

    python -m tests.experiments.coverage_study [--count N] [--seeds N] [--harsh N] [--jobs N] [--out FILE] [--stance]

Scenes of points, not pictures (`tests.points.simulate`). First part: drawn from the very distributions that the priors
claim. Second part: what users will produce, which no prior speaks of. Writes coverage_study.md beside this file.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom, norm

from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.asked.state import State
from photomeasure.interval.expanded import expanded
from photomeasure.rules.load import default_rule
from photomeasure.scene.priors import DEG, TAG_PLACEMENT_MM
from photomeasure.solution.estimate import Estimate, estimate
from photomeasure.solution.unusable import unusable
from photomeasure.solution.withdrawn import Reconciled, reconciled
from photomeasure.verdict.judge import judge
from photomeasure.verdict.notes import of_turn
from photomeasure.verdict.rests_on import rests_on
from tests.points.groups import GROUPS, LEFT, MIDDLE, RIGHT, STANDING
from tests.points.simulate import Harm, Rng, Shot, Simulated, simulate

Rng2Float = Callable[[Rng], float]
RESULT = Path(__file__).with_suffix(".md")
SEED = 2_026
# As in `photomeasure.record.made_from_result.warnings_of`
LEAN_DEG, SCATTER = 1.5, 2.5
BAND = 0.99  # of the binomial distribution of what a true 95.45 % comes to


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """One row of a table. noticed: share of scenes refused, warned of by corners or lean, or spoken of in a notice.
    unnoticed: share of scenes outside their interval with nothing said.

    of_seeds: coverage of each seed by itself; averaged: mean and standard deviation of the coverage where a tag's
    placement, which no photograph tells, is averaged over its distribution in place of one draw.
    """

    name: str
    count: int
    refused: int
    covered: int
    two_u: float
    birge: float
    bias_mm: float
    rms_mm: float
    u_mm: float
    noticed: float
    unnoticed: float
    told: str
    of_seeds: tuple[float, ...] = ()
    averaged: tuple[float, float] | None = None


def warned(done: Reconciled) -> list[str]:
    """What the record would warn of, by a word each."""
    solved = done.estimate
    lean = abs(float(np.degrees(solved.value("sheet.lean"))))
    found = []
    if lean > max(LEAN_DEG, 2.0 * float(np.degrees(solved.u("sheet.lean")))):
        found.append("lean")
    if solved.noise_scale > SCATTER:
        found.append("scatter")
    if solved.dropped > 2:
        found.append("dropped corners")
    return found + [sentence.split(":")[0] for sentence in (*of_turn(solved), *done.said)]


def measured(made: Simulated) -> Reconciled | Refusal:
    """As the program does it: what the photographs contradict gives way, and some solutions are none."""
    stated = estimate(made.scene)
    if isinstance(stated, Refusal):
        return stated
    done = reconciled(made.scene, stated)
    return unusable(done) or done


def tally(name: str, shot: Shot, count: int, seeds: tuple[int, ...], harm: Harm | None = None) -> Tally:
    """`count` scenes of each seed."""
    solved: list[tuple[Simulated, Estimate]] = []
    of_seeds: list[float] = []
    refused: dict[str, int] = {}
    words: dict[str, int] = {}
    spoken, silent = 0, list[bool]()
    for seed in seeds:
        rng, first = np.random.default_rng(seed), len(solved)
        for _ in range(count):
            made = simulate(shot, rng, harm)
            outcome = measured(made)
            if isinstance(outcome, Refusal):
                refused[outcome.code] = refused.get(outcome.code, 0) + 1
                continue
            solved.append((made, outcome.estimate))
            told = {_short(word) for word in warned(outcome)}
            spoken += bool(told)
            silent.append(not told)
            for word in told:
                words[word] = words.get(word, 0) + 1
        of_seeds.append(_mean(_covered(solved[first:])))
    total = count * len(seeds)
    error = np.array([result.height_mm - made.height_mm for made, result in solved])
    u = np.array([result.u_mm for _, result in solved])
    common = sorted({**refused, **words}.items(), key=lambda item: -item[1])[:3]
    return Tally(
        name=name,
        count=len(solved),
        refused=sum(refused.values()),
        covered=int(_covered(solved).sum()),
        two_u=_mean(np.abs(error) <= 2.0 * u),
        birge=float(np.sqrt(_mean((error / u) ** 2))),
        bias_mm=_mean(error),
        rms_mm=float(np.sqrt(_mean(error**2))),
        u_mm=float(np.sqrt(_mean(u**2))),
        noticed=(spoken + sum(refused.values())) / total,
        unnoticed=float((np.array(silent, dtype=bool) & ~_covered(solved)).sum()) / total,
        told=", ".join(f"{word} {100 * number / total:.0f} %" for word, number in common),
        of_seeds=tuple(of_seeds),
        averaged=_placement_averaged(solved) if shot.source == "tag" else None,
    )


def _covered(solved: list[tuple[Simulated, Estimate]]) -> NDArray[np.bool_]:
    held = [abs(result.height_mm - made.height_mm) <= expanded(result).U_mm for made, result in solved]
    return np.array(held, dtype=np.bool_)


def _placement_averaged(solved: list[tuple[Simulated, Estimate]]) -> tuple[float, float]:
    """Probability that the interval holds the truth, the tag's placement drawn anew for ever: mean, and its u."""
    held = []
    for made, result in solved:
        placed = made.truth[made.where.index["tag.placement"]]
        rest, U = result.height_mm - (made.height_mm - placed), expanded(result).U_mm
        held.append(float(norm.cdf((rest + U) / TAG_PLACEMENT_MM) - norm.cdf((rest - U) / TAG_PLACEMENT_MM)))
    return _mean(np.array(held)), float(np.std(held) / np.sqrt(len(held)))


def _mean(values: NDArray[np.float64] | NDArray[np.bool_]) -> float:
    return float(np.mean(values)) if len(values) else float("nan")


_SHORT = (
    ("focal length", "focal length"),
    ("lens's axis", "cropped"),
    ("bends lines", "distortion"),
    ("check bars", "check bars"),
    ("leans", "lean contradicted"),
    ("one plane", "foot line and ground sheet"),
    ("ground sheet's plane", "foot gap"),
    ("turned against", "roll"),
    ("in the picture: either", "turned"),
    ("in depth", "depth contradicted"),
    ("ball's outline", "ball"),
    ("centre tag", "tag"),
)


def _short(sentence: str) -> str:
    return next((short for part, short in _SHORT if part in sentence), sentence)


def either(value: float) -> Rng2Float:
    """Plus or minus the value, by a coin."""
    return lambda rng: value * float(rng.choice([-1.0, 1.0]))


def either_way(low: float, high: float) -> Rng2Float:
    """Between both, to either side."""
    return lambda rng: float(rng.uniform(low, high) * rng.choice([-1.0, 1.0]))


def just(value: float) -> Rng2Float:
    return lambda _: value


def within(low: float, high: float) -> Rng2Float:
    return lambda rng: float(rng.uniform(low, high))


def harms() -> dict[str, tuple[Harm, dict[str, object]]]:
    """What users do: the harm, and what they tell the program about it (changes of the shot)."""
    shrunk = {"print.x": just(0.97), "print.y": just(0.97)}
    on_letter = {"print.x": just(0.941), "print.y": just(0.941)}
    grown = {"print.x": just(1.002 * 179.5 / 180.0), "print.y": just(1.002)}
    far: dict[str, object] = {"aside_mm": (550.0, 650.0)}
    axis = {"photo*.q1": either(10.0)}  # 8 % of the width, the prior's u being 0.8 %
    return {
        "sheet leans 3 degrees": (Harm(values={"sheet.lean": either(3.0 * DEG)}), {}),
        "coupling 40 mm out of the sheet's plane": (Harm(values={"centre.y": either(40.0)}), {}),
        "fit-to-page print 0.97, bars not measured": (Harm(values=shrunk), {"bars": Bars()}),
        "fit-to-page print 0.97, bars measured": (Harm(values=shrunk), {"bars": Bars(x_mm=174.5, y_mm=242.5)}),
        "fit-to-page print 0.97, the printed lengths typed unread": (
            Harm(values=shrunk),
            {"bars": Bars(x_mm=180.0, y_mm=250.0)},
        ),
        "A4 kit on letter paper, 0.941, bars not measured": (Harm(values=on_letter), {"bars": Bars()}),
        "paper grown by 0.2 % since the bars were read": (Harm(values=grown), {}),
        "cropped left or right, 8 % of the width": (Harm(values=axis), {}),
        "cropped above or below, 8 % of the width": (Harm(values={"photo*.q2": either(10.0)}), {}),
        "EXIF focal length 20 % too short": (Harm(focal_factor=1.25), {}),
        "EXIF focal length 20 % too long": (Harm(focal_factor=1 / 1.2), {}),
        "asphalt, texture 1 mm, said to be hard and flat": (
            Harm(values={"ground.rise": lambda rng: float(rng.normal())}),
            {},
        ),
        "ground bends by 10 mm under 2 m, said to be flat, sheet 0.6 m aside": (
            Harm(values={"ground.slope_rise": either(3.0)}),
            far,
        ),
        "the same, not said to be flat": (
            Harm(values={"ground.slope_rise": either(3.0)}),
            {**far, "flat_ground": False},
        ),
        "both sheets on one board of 20 mm": (Harm(values={"ground.rise": just(-20.0)}), {}),
        "sheet turned by 10 degrees, 0.2 m aside": (
            Harm(values={"centre.y": either(35.0)}),
            {"aside_mm": (190.0, 210.0)},
        ),
        "foot line 0 to 2 mm off the ground": (Harm(values={"sheet.gap": within(0.0, 2.0)}), {}),
        "foot line cut to 1 mm": (Harm(values={"sheet.gap": within(-1.0, 1.0)}), {}),
        "sheet bowed by 2 mm": (Harm(bow_mm=2.0), {}),
        "foot line 5 mm off the ground": (Harm(values={"sheet.gap": just(5.0)}), {}),
        "foot line 20 mm off the ground": (Harm(values={"sheet.gap": just(20.0)}), {}),
        "sheet rolled by 3 to 7 degrees": (Harm(values={"sheet.roll": either_way(3.0 * DEG, 7.0 * DEG)}), {}),
        "sheet leans by 10 to 15 degrees": (Harm(values={"sheet.lean": either_way(10.0 * DEG, 15.0 * DEG)}), {}),
        "sheet 100 mm before or behind the coupling": (Harm(values={"centre.y": either(100.0)}), {}),
    }


# What one photograph of a mark cannot tell; looked at with the ball found by the program, too.
OF_STANCE = (
    "foot line 20 mm off the ground",
    "sheet rolled by 3 to 7 degrees",
    "sheet leans by 10 to 15 degrees",
    "sheet 100 mm before or behind the coupling",
)


def ball_harms() -> dict[str, Harm]:
    return {
        "ball worn to 49 mm": Harm(values={"ball.radius": just(24.5)}),
        "ball of 47.55 mm taken for 50": Harm(values={"ball.radius": just(47.55 / 2)}),
        "ball of 50.8 mm taken for 50": Harm(values={"ball.radius": just(25.4)}),
        "ball's edge 1.2 px too far out": Harm(values={"ball.edge*": just(1.2)}),
    }


WAYS: dict[str, Shot] = {
    "one, followed": Shot(),
    "one, standing": Shot(lenses_mm=STANDING),
    "one, ground sheet": Shot(lenses_mm=((0.0, -2000.0, 700.0),), ground_sheet=True),
    "three, ground sheet": Shot(lenses_mm=(LEFT, MIDDLE, RIGHT), ground_sheet=True),
}


# Beside the groups of the tests: what else a prior is for.
MORE: dict[str, Shot] = {
    "sheet under the coupling, ball": Shot(source="ball", aside_mm=(-20.0, 20.0)),
    "40-220 mm aside, ball": Shot(source="ball", aside_mm=(40.0, 220.0)),
    "40-220 mm aside, lens at 1.3 m, ball": Shot(
        source="ball", aside_mm=(40.0, 220.0), lenses_mm=((0.0, -1700.0, 1300.0),)
    ),
    "bars read to a millimetre": Shot(bars=Bars(x_mm=180.0, y_mm=250.0)),
    "bars not measured, ball": Shot(source="ball", bars=Bars()),
    "ground not said to be flat, 0.4 m aside": Shot(flat_ground=False, aside_mm=(350.0, 450.0)),
    "a level read within 2 mm a metre, 0.4 m aside": Shot(
        flat_ground=False, aside_mm=(350.0, 450.0), level_within_mm_per_m=2.0
    ),
    "mark on a coupled head": Shot(hidden="ball-50"),
    "mark on a pin's bush": Shot(hidden="pin"),
}


def claimed_row(case: tuple[int, int], count: int) -> Tally:
    """One seed of one group, drawn from the priors. case: number of the group, and of the seed."""
    number, turn = case
    name, shot = list({**GROUPS, **MORE}.items())[number]
    few = count // 2 if len(shot.lenses_mm) > 1 else count
    return tally(name, shot, few, (SEED + number + 100 * turn,))


def of_all_seeds(rows: list[Tally]) -> Tally:
    """The seeds of one group as one row."""
    n = np.array([row.count for row in rows], dtype=np.float64)
    share = n / n.sum()

    def mean(values: Iterable[float]) -> float:
        return float(share @ np.array(list(values)))

    averaged = [row.averaged for row in rows if row.averaged is not None]
    return replace(
        rows[0],
        count=int(n.sum()),
        refused=sum(row.refused for row in rows),
        covered=sum(row.covered for row in rows),
        two_u=mean(row.two_u for row in rows),
        birge=float(np.sqrt(mean(row.birge**2 for row in rows))),
        bias_mm=mean(row.bias_mm for row in rows),
        rms_mm=float(np.sqrt(mean(row.rms_mm**2 for row in rows))),
        u_mm=float(np.sqrt(mean(row.u_mm**2 for row in rows))),
        noticed=mean(row.noticed for row in rows),
        unnoticed=mean(row.unnoticed for row in rows),
        of_seeds=tuple(one for row in rows for one in row.of_seeds),
        averaged=(
            mean(one[0] for one in averaged),
            float(np.sqrt(share**2 @ np.array([one[1] ** 2 for one in averaged]))),
        )
        if averaged
        else None,
    )


def claimed_table(rows: Iterable[Tally]) -> list[str]:
    lines = [
        "| group | n | coverage, % | band of it, % | each seed, % | in 2 u, % | Birge | mean, mm | RMS, mm | u, mm | false notices, % |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    remarks = []
    for row in rows:
        low, high = binom.interval(BAND, row.count, 0.9545)
        each = " ".join(f"{100 * share:.1f}" for share in row.of_seeds)
        lines.append(
            f"| {row.name} | {row.count} | {100 * row.covered / row.count:.1f} | {100 * low / row.count:.1f}-"
            f"{100 * high / row.count:.1f} | {each} | {100 * row.two_u:.1f} | {row.birge:.3f} | {row.bias_mm:+.2f} "
            f"| {row.rms_mm:.2f} | {row.u_mm:.2f} | {100 * row.noticed:.1f} |"
        )
        print(lines[-1], flush=True)
        if row.averaged is not None:
            mean, u = row.averaged
            remarks.append(f"{row.name} {100 * mean:.2f} +/- {100 * u:.2f} %")
    said = (
        "Coverage with a tag's placement (85 % of its variance, told by no photograph) averaged over its distribution"
    )
    return [*lines, "", f"{said}\nin place of one draw a scene: {'; '.join(remarks)}."]


def harsh_cases() -> list[tuple[str, str, Shot, Harm]]:
    """What users do, by name, way of taking the picture, shot and harm."""
    cases = [
        (name, way, replace(shot, **told), harm)  # type: ignore[arg-type]
        for name, (harm, told) in harms().items()
        for way, shot in WAYS.items()
    ]
    by_ball = {**{name: harms()[name][0] for name in OF_STANCE}, **ball_harms()}
    return cases + [(name, "one, followed, ball", Shot(source="ball"), harm) for name, harm in by_ball.items()]


def harsh_row(number: int, count: int) -> Tally:
    name, _, shot, harm = harsh_cases()[number]
    few = count // 2 if len(shot.lenses_mm) > 1 or shot.source == "ball" else count
    return tally(name, shot, few, (SEED + 1000 + number,), harm)


def harsh_table(rows: Iterable[Tally]) -> list[str]:
    lines = [
        "| what users do | way | coverage, % | Birge | mean, mm | RMS, mm | u, mm | noticed, % | outside and nothing said, % | by |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for row, (name, way, _, _) in zip(rows, harsh_cases(), strict=True):
        covered = 100 * row.covered / max(row.count, 1)
        lines.append(
            f"| {name} | {way} | {covered:.0f} | {row.birge:.2f} | {row.bias_mm:+.1f} | {row.rms_mm:.1f} "
            f"| {row.u_mm:.1f} | {100 * row.noticed:.0f} | {100 * row.unnoticed:.0f} | {row.told} |"
        )
        print(lines[-1], flush=True)
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000, help="scenes a group drawn from the priors")
    parser.add_argument("--harsh", type=int, default=150, help="scenes a harm and way of taking the picture")
    parser.add_argument("--seeds", type=int, default=3, help="so many times")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--stance", action="store_true", help="only what is said of how the sheet stands, printed")
    parser.add_argument("--out", type=Path, default=RESULT)
    wanted = parser.parse_args()
    cv2.setNumThreads(1)
    with ProcessPoolExecutor(wanted.jobs) as pool:
        seeds = [(number, turn) for number in range(len(GROUPS) + len(MORE)) for turn in range(wanted.seeds)]
        of_stance = partial(stance_row, count=wanted.harsh)
        if wanted.stance:
            stance_table(pool.map(of_stance, range(len(stance_cases()))))
            return
        of_seeds = pool.map(partial(claimed_row, count=wanted.count), seeds)  # the longest first
        of_harms = pool.map(partial(harsh_row, count=wanted.harsh), range(len(harsh_cases())))
        stances = pool.map(of_stance, range(len(stance_cases())))
        each = list(of_seeds)
        claimed = claimed_table(of_all_seeds(each[i : i + wanted.seeds]) for i in range(0, len(each), wanted.seeds))
        harsh, stance = harsh_table(of_harms), stance_table(stances)
    text = RESULT.read_text(encoding="utf-8") if RESULT.is_file() else ""
    reading = text.partition("## How to read it")[2]
    parts = ["# Coverage study", HEAD, "## Drawn from the priors", "\n".join(claimed)]
    parts += ["## What users do that no prior speaks of", "\n".join(harsh)]
    parts += ["## What is said beside the verdict of how the sheet stands", "\n".join(stance)]
    parts += ["## How to read it" + reading.rstrip()] if reading else []
    wanted.out.write_text("\n\n".join(parts) + "\n", encoding="utf-8")


# What is said beside the verdict of each of them (`verdict.rests_on`).
SAID_OF = dict(
    zip(OF_STANCE, ("touch the ground", "not on a corner", "stand upright", "under the coupling"), strict=True)
)


def stance_cases() -> list[tuple[str, str, Shot, Harm]]:
    return [case for case in harsh_cases() if case[0] in OF_STANCE and not case[1].startswith("three")]


def stance_row(number: int, count: int) -> str:
    """Of scenes outside their interval: in how many the words beside the verdict name what was done; how far off they say it puts
    the height, over how far off it is (median)."""
    name, way, shot, harm = stance_cases()[number]
    rng = np.random.default_rng(SEED + 3000 + number)
    outside = told = changes = wrong = 0
    shares = []
    for _ in range(count):
        made = simulate(shot, rng, harm)
        done = measured(made)
        if isinstance(done, Refusal):
            continue
        known = expanded(done.estimate)
        error_mm = abs(known.height_mm - made.height_mm)
        if error_mm <= known.U_mm or warned(done):
            continue
        outside += 1
        verdict = judge(
            known.height_mm, known.u_mm, default_rule("ball-50"), State(coupled=True, laden=True), "ball-50",
            interval_mm=known.interval_mm,
        )  # fmt: skip
        line = next((one for one in rests_on(done.estimate, known.interval_mm, verdict) if SAID_OF[name] in one), None)
        told += line is not None
        inside = verdict.band is not None and verdict.band.low_mm <= made.height_mm <= verdict.band.high_mm  # type: ignore[operator]
        is_wrong = verdict.verdict == ("within" if not inside else "above") or (inside and verdict.verdict == "below")
        wrong += is_wrong
        changes += is_wrong and line is not None and "change the verdict" in line
        if line is not None and (said_mm := re.search(r"(\d+) mm off", line)) is not None:
            shares.append(float(said_mm.group(1)) / error_mm)
    ratio = f"{np.median(shares):.1f}" if shares else ""
    return f"| {name} | {way} | {count} | {outside} | {told} | {ratio} | {wrong} | {changes} |"


def stance_table(rows: Iterable[str]) -> list[str]:
    head = (
        "| what users do | way | scenes | outside, nothing noticed | of these named beside the verdict | effect that is said over the error, "
        "median | verdict wrong | of these said to be changed by it |"
    )
    lines = [head, "|---|---|---|---|---|---|---|---|"]
    for row in rows:
        lines.append(row)
        print(row, flush=True)
    return lines


HEAD = """Made by `python -m tests.experiments.coverage_study`; the tables are written by it, the reading below them by
hand. The interval is the one that is reported (`photomeasure.interval.expanded`): 95.45 % of what the inputs' distributions add up
to, which is 2 u to the printed digit wherever limits are guesses (curvilinear trapezoids), after what the points contradict has
given way. The band of coverage holds 99 % of what a true 95.45 % comes to with so many scenes. "Noticed" counts scenes that were
refused, or for which the record holds a warning beyond "the bars were not measured"."""


if __name__ == "__main__":
    main()
