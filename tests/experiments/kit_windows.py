"""What the quick looks for codes miss that the thorough ones after them find, and what is found of sheets with both.

    python -m tests.experiments.kit_windows --count 20
    python -m tests.experiments.kit_windows FOLDER...

For each condition, on the shipped kit: codes read and sheets measured in the first quick look, in the second, and in the first
thorough one. Of folders of photographs: what the finder finds as it is, with its thorough looks alone, and, of pictures with a
ground sheet, what is found of it from above, the finder being kept from it.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from unittest.mock import patch

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.finding import sheet_from_above, sheets
from calib.finding.codes import find_codes
from calib.finding.sheets import Finding, find_sheets, looks, measure_sheet, shrink
from photomeasure.asked.request import Request
from photomeasure.pipeline import stand
from photomeasure.rules.load import default_rule
from photomeasure.seen.look import Refused
from tests.experiments.kit_designs import Design, designs
from tests.experiments.kit_pictures import CONDITIONS, Condition, Picture, take

MORE = (
    Condition(name="12 MP 0.8-1.6 m", near_m=0.8, far_m=1.6),
    Condition(name="12 MP 1.6-2.5 m", near_m=1.6, far_m=2.5),
    Condition(name="12 MP 4-6 m", near_m=4.0, far_m=6.0),
    Condition(name="12 MP half in shadow", near_m=0.8, far_m=2.5, shadow=True),
    Condition(name="12 MP yaw 55", near_m=0.8, far_m=2.5, yaw_deg=55.0),
    Condition(name="12 MP out of focus", near_m=1.2, far_m=2.2, defocus_px=4.0),
    Condition(name="12 MP dark", near_m=1.0, far_m=4.0),
)
DARK = 0.15  # of the grey levels
SCALES_PER_MM = (0.5, 0.6, 0.8, 1.4)  # of the view from above


def as_asked(picture: Picture, condition: Condition) -> NDArray[np.uint8]:
    return np.asarray(picture.grey * DARK + 5 if "dark" in condition.name else picture.grey, dtype=np.uint8)


def of_condition(design: Design, condition: Condition, count: int) -> str:
    read, measured = Counter[int](), Counter[int]()
    for number in range(count):
        picture = take(design, condition, np.random.default_rng([9, number, sum(map(ord, condition.name))]))
        grey, tried = as_asked(picture, condition), looks(picture.long_side_px)
        quick = [look for look in tried if look[1]]
        for way, (level, is_quick) in enumerate([quick[0], quick[-1], next(look for look in tried if not look[1])]):
            small, factor = shrink(grey, round(max(grey.shape) * level / picture.long_side_px))
            codes = {code.id: code for code in find_codes(small, quick=is_quick) if code.id in design.sheet.code_ids}
            read[way] += len(codes)
            if codes:
                measured[way] += measure_sheet(grey, small, factor, design.sheet, tuple(codes.values())) is not None
    cells = (*(str(read[way]) for way in range(3)), *(str(measured[way]) for way in range(3)))
    return f"| {condition.name} | {3 * count} | {' | '.join(cells)} |"


def counted(found: Iterable[Finding]) -> str:
    """Upright sheets, ground sheets, codes and saddles of all of them."""
    each = [sheet for finding in found for sheet in finding.all]
    roles = Counter(sheet.sheet.role for sheet in each)
    return f"{roles['upright']} | {roles['ground']} | {sum(len(one.codes) for one in each)} | {sum(len(one.index) for one in each)}"


def of_folder(folder: Path) -> None:
    ways: dict[str, list[Finding]] = {"as it is": [], "thorough looks alone": []}
    above: Counter[str] = Counter()
    grounds = 0
    paths = sorted(folder.glob("*.jpg"))
    for path in paths:
        grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        if grey is None:
            continue
        found = {"as it is": find_sheets(np.asarray(grey, dtype=np.uint8))}
        thorough = [look for look in looks(max(grey.shape)) if not look[1]]
        with (
            patch.object(sheets, "looks", lambda _, alone=thorough: alone),
            patch.object(sheets, "_whole_at_once", lambda *_: None),
        ):
            found["thorough looks alone"] = find_sheets(np.asarray(grey, dtype=np.uint8))
        for way, finding in found.items():
            ways[way] += [finding] if isinstance(finding, Finding) else []
        if any(isinstance(one, Finding) and one.of_role("ground") for one in found.values()):
            grounds += 1
            for per_mm in SCALES_PER_MM:
                above[f"from above, {per_mm:g} px/mm"] += from_above(path, per_mm)
    for way, findings in ways.items():
        print(f"| {folder.name} ({len(paths)}) | {way} | {counted(findings)} |", flush=True)
    for way, sheets_found in above.items():
        print(f"| {folder.name} ({grounds}) | {way} | | {sheets_found} | | |", flush=True)


def from_above(path: Path, per_mm: float) -> bool:
    """Whether the ground sheet is found from above, where it was not before."""

    def without(grey: NDArray[np.uint8]) -> object:
        found = find_sheets(grey)
        return replace(found, sheets=found.sheets[:1]) if isinstance(found, Finding) else found

    request = Request(photos=(path,), rule=default_rule("ball-50"))
    with patch.object(sheet_from_above, "PX_PER_MM", per_mm), patch("photomeasure.seen.look.find_sheets", without):
        standing = stand(request)
    return not isinstance(standing, Refused) and standing.views[0].finding.of_role("ground") is not None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folders", nargs="*", type=Path, help="photographs in place of drawn pictures")
    parser.add_argument("--count", type=int, default=20, help="pictures of each condition")
    options = parser.parse_args()
    if options.folders:
        print("| pictures | looked for | upright sheets | ground sheets | codes | saddles |\n|---|---|---|---|---|---|")
        for folder in options.folders:
            of_folder(folder)
        return
    print(
        "| condition | codes there | read: first quick | last quick | thorough | sheets: first quick | last quick | thorough |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for condition in (*CONDITIONS, *MORE):
        print(of_condition(designs()["A"], condition, options.count), flush=True)


if __name__ == "__main__":
    main()
