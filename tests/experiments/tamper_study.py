"""Every single value of a record changed alone: does `verify` find it?

By hand: python -m tests.experiments.tamper_study [SAMPLE...]

Records of the samples, a tape beside one. Each leaf is changed in several ways (`tests.repeat.test_compare.others`, and set to
nothing); what was asked changes the measurement, which is done again with it. Printed: how many changes, how many are no
record any more, and every key of which a change verifies as the same.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

from calib.outcome.errors import InputError
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.request_kept import request_from
from photomeasure.record.schema import Record
from photomeasure.record.with_tape import said_of
from photomeasure.repeat.compare import compare
from tests.repeat.test_compare import leaves, others, with_leaf
from tests.sample_requests import sample_request


def again(forged: Record, whole: Record, paths: tuple[Path, ...]) -> Record | None:
    """The record of a measurement by what the forged one says was asked; None where it cannot be asked for."""
    if forged.asked == whole.asked and forged.tape == whole.tape:
        return whole
    assert forged.asked is not None
    with tempfile.TemporaryDirectory() as place:
        try:
            request = request_from(forged.asked, paths, Path(place))
            return recorded(request, seed=forged.asked.monte_carlo_seed, tape=said_of(forged.tape))[1]
        except InputError:
            return None


def tried(name: str) -> None:
    request = sample_request(name, centres_px=())
    tape = TapeSaid(reading_mm=402.0) if name == "within" else None
    whole = recorded(request, tape=tape)[1]
    written = whole.model_dump(by_alias=True, mode="json")
    counts: Counter[str] = Counter()
    passed: Counter[str] = Counter()
    for path, value in leaves(written):
        of_asked = path[0] == "asked"
        for other in [*others(value)[: 1 if of_asked else None], *([None] if value is not None else [])]:
            forged = with_leaf(written, path, other)
            if forged is None:
                counts["no record any more"] += 1
                continue
            now = again(forged, whole, request.photos)
            if now is None:
                counts["cannot be asked for"] += 1
            elif compare(forged, now).differing:
                counts["found"] += 1
            else:
                counts["VERIFIES AS THE SAME"] += 1
                passed[".".join(str(key) for key in path)] += 1
    print(f"{name}: {sum(1 for _ in leaves(written))} leaves, {dict(counts)}")
    for key, number in passed.items():
        print(f"  {key} ({number})")


if __name__ == "__main__":
    for sample in sys.argv[1:] or ("within", "coupled", "set", "refuse"):
        tried(sample)
