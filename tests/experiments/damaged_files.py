"""Damaged photographs: `python -m tests.experiments.damaged_files decode COUNT` or `... measure COUNT`.

decode: small files of every format with changed bytes; how many are decoded, refused, or end their decoder (which costs that
file only); any exception is raised. measure: whole measurements of sample photographs whose JPEG data was damaged (bytes lost,
doubled, zeroed, overwritten); how many are refused, inside U of the undamaged figure, or outside.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from calib.outcome.refusal import Refusal
from photomeasure.asked.bars import Bars
from photomeasure.asked.request import Request
from photomeasure.pipeline import Result, measure
from photomeasure.rules.load import default_rule
from photomeasure.seen.image import decode
from tests.experiments.fuzz_doors import random_changes
from tests.fuzz.mutations import changed
from tests.fuzz.test_photographs import KINDS, good
from tests.sample_requests import SAMPLES

SEED = 20261126


def decoded(count: int) -> None:
    for kind in KINDS:
        rng = np.random.default_rng([SEED, KINDS.index(kind)])
        counts: Counter[str] = Counter()
        start = time.perf_counter()
        for _ in range(count):
            data = good(kind)
            cut = len(data) // 10 if rng.random() < 0.5 else len(data)
            found = decode(Path("p.jpg"), changed(data[:cut], random_changes(rng)) + data[cut:])
            crashed = isinstance(found, Refusal) and "decoder stopped" in found.reason
            counts["ended its decoder" if crashed else found.code if isinstance(found, Refusal) else "decoded"] += 1
        print(f"{kind:12s} {dict(counts)}, {(time.perf_counter() - start) / count * 1e3:.1f} ms each", flush=True)


def damaged(data: bytes, rng: np.random.Generator) -> bytes:
    """One or two places behind the head, each of up to 2000 bytes."""
    for _ in range(int(rng.integers(1, 3))):
        at = int(rng.integers(2000, len(data) - 2000))
        length = int(rng.choice([1, 8, 64, 512, 2000]))
        kind = int(rng.integers(4))
        noise = rng.integers(0, 256, length, dtype=np.uint8).tobytes()
        middle = (b"", data[at : at + length] * 2, bytes(length), noise)[kind]
        data = data[:at] + middle + data[at + length :]
    return data


def measured(count: int) -> None:
    rng = np.random.default_rng(SEED)
    counts: Counter[str] = Counter()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "p.jpg"
        for name in ("within", "coupled", "above", "close-call"):
            data = (SAMPLES / f"{name}.jpg").read_bytes()
            whole = measured_or_code(SAMPLES / f"{name}.jpg")
            assert isinstance(whole, Result)
            for _ in range(count // 4):
                path.write_bytes(damaged(data, rng))
                found = measured_or_code(path)
                if not isinstance(found, Result):
                    counts[found] += 1
                    continue
                off = abs(found.estimate.height_mm - whole.estimate.height_mm)
                inside = off <= 2.0 * found.estimate.u_mm
                counts["measured, inside U" if inside else "measured, OUTSIDE U"] += 1
                if not inside:
                    print(f"{name}: {off:.2f} mm off by u {found.estimate.u_mm:.2f}", flush=True)
    print(dict(counts))


def measured_or_code(path: Path) -> Result | str:
    """A measurement, or the code of its refusal."""
    found = measure(Request(photos=(path,), rule=default_rule("ball-50"), bars=Bars(x_mm=150.0, y_mm=150.0)))
    return found if isinstance(found, Result) else found.refusal.code


if __name__ == "__main__":
    {"decode": decoded, "measure": measured}[sys.argv[1]](int(sys.argv[2]))
