"""Every single value of a record changed alone: does `verify` find it?

By hand: python -m tests.experiments.tamper_study [SAMPLE...]

Records of the samples, a case and a tape beside one. Each leaf is changed in several ways (`tests.repeat.test_compare.others`, and
set to nothing); what was asked changes the measurement, which is done again with it. Printed: how many changes, how many are no
record any more, how many only the record's own digests tell, and every key of which a change verifies as the same.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from calib.outcome.errors import InputError
from photomeasure.asked.case import Particulars
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.own_digests import changed_parts
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
    if forged.asked is None:
        return None
    with tempfile.TemporaryDirectory() as place:
        try:
            request = request_from(forged.asked, paths, Path(place))
            return recorded(request, seed=forged.asked.monte_carlo_seed, tape=said_of(forged.tape))[1]
        except InputError:
            return None


def with_value(written: dict[str, Any], path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    """What is in the file with one leaf changed."""
    copy: dict[str, Any] = json.loads(json.dumps(written))
    part: Any = copy
    for key in path[:-1]:
        part = part[key]
    part[path[-1]] = value
    return copy


def tried(name: str) -> None:
    case = Particulars(rig="Trailer 7", case="F-31", by="A. Miller", place="Ferncombe", note="after rain")
    request = sample_request(name, centres_px=(), **({"case": case} if name == "within" else {}))
    tape = TapeSaid(reading_mm=402.0) if name == "within" else None
    whole = recorded(request, tape=tape)[1]
    written = json.loads(whole.to_json())
    whole = Record.model_validate(written)
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
                counts["found by measuring again"] += 1
            elif parts := changed_parts(with_value(written, path, other)):
                counts[f"told by its digest ({', '.join(parts)})"] += 1
            elif path[0] == "digests":
                counts["told: no digests"] += 1
            else:
                counts["VERIFIES AS THE SAME"] += 1
                passed[".".join(str(key) for key in path)] += 1
    print(f"{name}: {sum(1 for _ in leaves(written))} leaves, {dict(counts)}")
    for key, number in passed.items():
        print(f"  {key} ({number})")


if __name__ == "__main__":
    for sample in sys.argv[1:] or ("within", "coupled", "set", "refuse"):
        tried(sample)
