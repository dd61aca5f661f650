"""What the quick look for codes, with two of three threshold windows, misses at the first level of the search.

    python -m tests.experiments.kit_windows --count 20

For each condition of `kit_pictures`, on the shipped kit: codes read, and sheets measured, by all windows and by two.
"""

from __future__ import annotations

import argparse

import numpy as np

from calib.codes import find_codes
from calib.finder import LEVELS_PX, measure_sheet, shrink
from tests.experiments.kit_designs import designs
from tests.experiments.kit_pictures import CONDITIONS, take


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--count", type=int, default=20, help="pictures of each condition")
    count = parser.parse_args().count
    design = designs()["A"]
    print("| condition | codes read: all windows | two | sheets measured: all windows | two |\n|---|---|---|---|---|")
    for condition in CONDITIONS:
        codes_read, sheets = [0, 0], [0, 0]
        for number in range(count):
            picture = take(design, condition, np.random.default_rng([9, number, sum(map(ord, condition.name))]))
            level = LEVELS_PX[0] if LEVELS_PX[0] < 0.8 * picture.long_side_px else picture.long_side_px
            side = round(max(picture.grey.shape) * level / picture.long_side_px)
            small, factor = shrink(picture.grey, side)
            for way, quick in enumerate((False, True)):
                read = {code.id: code for code in find_codes(small, quick=quick) if code.id in design.sheet.code_ids}
                codes_read[way] += len(read)
                if read:
                    found = measure_sheet(picture.grey, small, factor, design.sheet, tuple(read.values()))
                    sheets[way] += found is not None
        print(f"| {condition.name} | {codes_read[0]} | {codes_read[1]} | {sheets[0]} | {sheets[1]} |", flush=True)


if __name__ == "__main__":
    main()
