"""Damaged photographs: `python -m tests.experiments.damaged_files decode COUNT` or `... measure COUNT [SEED [FOLDER...]]`.

decode: small files of every format with changed bytes; how many are decoded, refused, or end their decoder (which costs that
file only); any exception is raised. measure: whole measurements of sample photographs whose JPEG data was damaged (bytes lost,
doubled, zeroed, overwritten); how many are refused, inside U of the undamaged figure, or outside, sure or in doubt. FOLDER: of
path-traced rigs (`make_scenes.py`) in place of the samples.
"""

from __future__ import annotations

import sys
import time
import tomllib
from collections import Counter
from collections.abc import Sequence
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


def measured(count: int, seed: int = SEED, folders: Sequence[Path] = ()) -> None:
    rng = np.random.default_rng(seed)
    counts: Counter[str] = Counter()
    told = sorted(one for folder in folders for one in folder.glob("*.toml")) or [
        SAMPLES / f"{name}.toml" for name in ("within", "coupled", "above", "close-call")
    ]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "p.jpg"
        for one in told:
            truth = tomllib.loads(one.read_text(encoding="utf-8"))
            photo = one.with_name(truth["files"][0])
            data, bars = photo.read_bytes(), Bars(x_mm=truth["bar_x_mm"], y_mm=truth["bar_y_mm"])
            whole = measured_or_code(photo, bars)
            if not isinstance(whole, Result):
                print(f"{one.stem}: undamaged {whole}")
                continue
            for number in range(count // len(told)):
                path.write_bytes(damaged(data, rng))
                found = measured_or_code(path, bars)
                if not isinstance(found, Result):
                    counts[found] += 1
                    continue
                off = abs(found.estimate.height_mm - whole.estimate.height_mm)
                inside = off <= found.expanded.U_mm
                sure = "in doubt" if set(found.doubts) - set(whole.doubts) else "SURE"
                counts["measured, inside U" if inside else f"measured, OUTSIDE U, {sure}"] += 1
                if not inside:
                    print(f"{one.stem} {number}: {off:.2f} mm off by U {found.expanded.U_mm:.2f}, {sure}", flush=True)
    print(dict(counts))


def measured_or_code(path: Path, bars: Bars = Bars(x_mm=150.0, y_mm=150.0)) -> Result | str:
    """A measurement, or the code of its refusal."""
    found = measure(Request(photos=(path,), rule=default_rule("ball-50"), bars=bars))
    return found if isinstance(found, Result) else found.refusal.code


if __name__ == "__main__":
    if sys.argv[1] == "decode":
        decoded(int(sys.argv[2]))
    else:
        measured(
            int(sys.argv[2]), int(sys.argv[3]) if sys.argv[3:] else SEED, [Path(folder) for folder in sys.argv[4:]]
        )
