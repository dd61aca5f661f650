"""Tables of what `hands_judged` measured: each set's errors against its intervals, and what each input quantity did.

    python -m tests.experiments.hands_table FOLDER...

The bands hold 95 % of what a true 95.45 % of coverage (binomial) and a true ratio of one (chi-square) come to with so many.
"Sure" is a verdict with no doubt of the measurement beside it (the state of the rig and the rule's own standing left aside).
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np
from scipy.stats import binom, chi2

Line = dict[str, Any]
NO_BARS = "The check bars"


def is_wrong(line: Line) -> bool:
    """A verdict that the truth is against."""
    low, high = line["band_mm"]
    inside = low <= line["truth_mm"] <= high
    return bool((line["verdict"] == "within" and not inside) or (line["verdict"] in ("above", "below") and inside))


def held(line: Line) -> bool:
    low, high = line["interval_mm"]
    return bool(low <= line["truth_mm"] <= high)


def of_set(name: str, lines: list[Line]) -> str:
    found = [line for line in lines if "refused" not in line]
    n = len(found)
    codes = sorted({line["refused"] for line in lines if "refused" in line})
    refused = ", ".join(f"{sum(line.get('refused') == code for line in lines)} {code}" for code in codes)
    if not n:
        return f"| {name} | 0 of {len(lines)} | | | | | | | | {refused} |"
    error = np.array([line["height_mm"] - line["truth_mm"] for line in found])
    u = np.array([line["u_mm"] for line in found])
    birge = float(np.sqrt(np.mean((error / u) ** 2)))
    inside = sum(held(line) for line in found)
    low, high = binom.interval(0.95, n, 0.9545)
    least, most = np.sqrt(chi2.ppf([0.025, 0.975], n) / n)
    wrong = [line for line in found if is_wrong(line)]
    sure = [line for line in wrong if not line["doubts"]]
    named = sum(any("change the verdict" in one for one in line["rests"]) for line in sure)
    return (
        f"| {name} | {n} of {len(lines)} | {error.mean():+.2f} | {np.sqrt(np.mean(error**2)):.2f} | {np.abs(error).max():.1f} "
        f"| {np.sqrt(np.mean(u**2)):.2f} | {100 * inside / n:.1f} ({100 * low / n:.0f}-{100 * high / n:.0f}) "
        f"| {birge:.2f} ({least:.2f}-{most:.2f}) | {len(wrong)}, sure {len(sure)}, of these turned by what is named {named} | {refused} |"
    )


def of_typed(name: str, lines: list[Line]) -> str:
    """Bars that were not read: how often it is noticed, and what it does."""
    found = [line for line in lines if "refused" not in line]
    n = max(len(lines), 1)
    said = [line for line in found if line["doubts"]]
    out = [line for line in found if not held(line)]
    quiet = [line for line in out if not line["doubts"]]
    wrong = [line for line in found if is_wrong(line)]
    sure = [line for line in wrong if not line["doubts"]]
    handled = len(lines) - len(quiet)
    return (
        f"| {name} | {len(lines)} | {100 * (len(said) + len(lines) - len(found)) / n:.0f} | {100 * len(out) / n:.0f} "
        f"| {100 * handled / n:.1f} | {len(wrong)} | {len(sure)} |"
    )


def of_quantities(lines: list[Line]) -> list[str]:
    """What each input quantity was said to do to the height, and did."""
    found = [line for line in lines if line.get("effects")]
    names = sorted({what for line in found for what in line["effects"]})
    rows = []
    for what in names:
        each = np.array([line["effects"][what] for line in found if what in line["effects"]])
        claimed, did = (float(np.sqrt(np.mean(each[:, i] ** 2))) for i in (0, 1))
        ratio = np.sqrt(np.mean((each[:, 1] / np.maximum(each[:, 0], 1e-9)) ** 2))
        rows.append((claimed, f"| {what} | {claimed:.2f} | {did:.2f} | {each[:, 1].mean():+.2f} | {ratio:.2f} |"))
    told = np.array([sum(v[1] for k, v in line["effects"].items() if k != "pixels") for line in found])
    rms = float(np.sqrt(np.mean(told**2)))
    rows.append((-1.0, f"| **all but the pictures** | | **{rms:.2f}** | {told.mean():+.2f} | |"))
    return [row for _, row in sorted(rows, key=lambda row: -row[0])]


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folders", type=Path, nargs="+")
    folders = parser.parse_args().folders
    lines = [
        json.loads(text)
        for folder in folders
        for path in folder.rglob("*.jsonl")
        for text in path.read_text().splitlines()
    ]
    sets: dict[tuple[str, str, str], list[Line]] = {}
    for line in lines:
        sets.setdefault((line["bars"], line["rig"].split("-")[0], line["centre"]), []).append(line)
    print("| set | found | mean mm | RMS mm | worst | u mm | inside U, % | Birge | verdicts wrong | refused |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for (bars, rig, centre), group in sorted(sets.items()):
        if bars == "read":
            print(of_set(f"{rig}, {centre}", group))
    print(
        "\n| bars typed | rigs | doubted or refused, % | outside U, % | inside or doubted, % | verdicts wrong | wrong and sure |"
    )
    print("|---|---|---|---|---|---|---|")
    for (bars, rig, centre), group in sorted(sets.items()):
        print(of_typed(f"{bars}: {rig}, {centre}", group))
    for (bars, rig, centre), group in sorted(sets.items()):
        if bars == "read" and any(line.get("effects") for line in group):
            print(
                f"\n{rig}, {centre}: what each did to the height, mm\n\n| input | claimed | did | mean | ratio |\n|---|---|---|---|---|"
            )
            print("\n".join(of_quantities(group)))


if __name__ == "__main__":
    main()
