"""What the quick first look for codes misses that the thorough look after it finds.

    python -m tests.experiments.kit_windows --count 20

For each condition of `kit_pictures`, on the shipped kit: codes read, and sheets measured. Quick: the picture shrunk to
1280 px, two of the detector's three threshold windows. Thorough: 1600 px, all three.
"""

from __future__ import annotations

import argparse

import numpy as np

from calib.finding.codes import find_codes
from calib.finding.sheets import looks, measure_sheet, shrink
from tests.experiments.kit_designs import designs
from tests.experiments.kit_pictures import CONDITIONS, take


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--count", type=int, default=20, help="pictures of each condition")
    count = parser.parse_args().count
    design = designs()["A"]
    print("| condition | codes read: quick | thorough | sheets measured: quick | thorough |\n|---|---|---|---|---|")
    for condition in CONDITIONS:
        codes_read, sheets = [0, 0], [0, 0]
        for number in range(count):
            picture = take(design, condition, np.random.default_rng([9, number, sum(map(ord, condition.name))]))
            for way, (level, quick) in enumerate(looks(picture.long_side_px)[:2]):
                side = round(max(picture.grey.shape) * level / picture.long_side_px)
                small, factor = shrink(picture.grey, side)
                read = {code.id: code for code in find_codes(small, quick=quick) if code.id in design.sheet.code_ids}
                codes_read[way] += len(read)
                if read:
                    found = measure_sheet(picture.grey, small, factor, design.sheet, tuple(read.values()))
                    sheets[way] += found is not None
        print(f"| {condition.name} | {codes_read[0]} | {codes_read[1]} | {sheets[0]} | {sheets[1]} |", flush=True)


if __name__ == "__main__":
    main()
