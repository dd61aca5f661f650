"""Many damaged files through every door: `python -m tests.experiments.fuzz_doors [COUNT of each] [SEED]`.

Prints how many were read and told, the longest error text, and each traceback once with the file that made it.
"""

from __future__ import annotations

import sys
import time
import traceback
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from tests.fuzz.doors import doors
from tests.fuzz.mutations import NASTY, Change, changed
from tests.fuzz.test_doors import NAMES, outcome


def random_changes(rng: np.random.Generator) -> list[Change]:
    return [
        (int(rng.integers(4)), float(rng.random()), int(rng.integers(1, 60)), int(rng.integers(len(NASTY))))
        for _ in range(int(rng.integers(1, 6)))
    ]


def main(count: int, seed: int) -> None:
    seen: set[str] = set()
    for name in NAMES:
        rng = np.random.default_rng([seed, NAMES.index(name)])
        counts: Counter[str] = Counter()
        longest, start = 0, time.perf_counter()
        with TemporaryDirectory() as folder:
            for _ in range(count):
                data = changed(doors()[name].good, random_changes(rng))
                try:
                    said = outcome(name, data, Path(folder))
                except Exception as error:
                    counts["traceback"] += 1
                    last = traceback.extract_tb(error.__traceback__)[-1]
                    key = f"{name}: {type(error).__name__} in {last.filename}:{last.lineno}"
                    if key not in seen:
                        seen.add(key)
                        print(f"{key}: {str(error)[:200]}\n  {data[:200]!r}")
                    continue
                counts["read" if said == "read" else "told"] += 1
                longest = max(longest, len(said))
        rest = f"longest text {longest}, {(time.perf_counter() - start) / count * 1e3:.2f} ms each"
        print(f"{name:12s} {dict(counts)}, {rest}", flush=True)


if __name__ == "__main__":
    main(
        *(int(text) for text in sys.argv[1:3])
        if len(sys.argv) > 2
        else (int(sys.argv[1]) if len(sys.argv) > 1 else 1000, 1)
    )
