"""Digests that a record holds of itself: SHA-256 by hand, what they notice, what they leave in peace."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from photomeasure.asked.case import Particulars
from photomeasure.record.measure_and_record import recorded
from photomeasure.record.own_digests import changed_parts, digests_of, with_digests
from photomeasure.record.schema import Record
from tests.running import runs
from tests.sample_requests import sample_request

run = runs("verify")


@pytest.fixture(scope="module")
def written() -> dict[str, Any]:
    """A record with a case, as it lies in its file."""
    case = Particulars(rig="Trailer 7", case="F-31", by="A. Miller", more=(("lot", "12"),))
    found: dict[str, Any] = json.loads(recorded(sample_request(case=case))[1].to_json())
    return found


def test_a_digest_is_the_sha_256_of_the_canonical_text() -> None:
    small = {
        "version": "1",
        "software": {},
        "computed": "now",
        "note": "\u00e9",
        "mm": 2.0,
        "photos": [{"file": "a", "n": 1}],
    }
    content = '{"mm":"2","note":"\u00e9","photos":[{"n":"1"}]}'
    assert digests_of(small)["content"] == hashlib.sha256(content.encode("utf-8")).hexdigest()
    assert digests_of(small)["made_with"] == hashlib.sha256(b'{"software":{},"version":"1"}').hexdigest()


def test_a_record_fits_its_digests_and_is_written_the_same_again(written: dict[str, Any]) -> None:
    assert changed_parts(written) == ()
    assert json.loads(Record.model_validate(written).to_json()) == written


@pytest.mark.parametrize(
    ("path", "value", "told"),
    [
        (("asked", "case", "case"), "F-32", ("content",)),
        (("asked", "case", "more", "lot"), "13", ("content",)),
        (("cautions", 0), "None.", ("content",)),
        (("u_mm",), 0.25, ("content",)),
        (("version",), "0.0.7", ("made_with",)),
        (("software", "numpy"), "1.0", ("made_with",)),
        (("computed",), "2020-01-01T00:00:00+00:00", ()),
        (("photos", 0, "file"), "moved/within.jpg", ()),
        (("photos", 0, "sha256"), "0" * 64, ("content",)),
    ],
)
def test_what_they_notice(written: dict[str, Any], path: tuple[Any, ...], value: Any, told: tuple[str, ...]) -> None:
    copy = json.loads(json.dumps(written))
    part = copy
    for key in path[:-1]:
        part = part[key]
    part[path[-1]] = value
    assert changed_parts(copy) == told


def test_another_programs_way_of_writing_numbers_and_keys_is_no_change(written: dict[str, Any]) -> None:
    """Whole numbers without a point, 15 digits, keys in another order, no white space."""
    plain = json.dumps(written, sort_keys=True, separators=(",", ":"))
    again = json.loads(plain, parse_float=lambda text: float(f"{float(text):.15g}"))
    again = {
        key: int(value) if isinstance(value, float) and value.is_integer() else value for key, value in again.items()
    }
    assert changed_parts(again) == ()


def test_without_digests_nothing_is_claimed(written: dict[str, Any]) -> None:
    assert changed_parts({key: value for key, value in written.items() if key != "digests"}) is None
    assert changed_parts({**written, "digests": None}) is None


def test_verify_tells_a_case_that_was_typed_anew(written: dict[str, Any], tmp_path: Path) -> None:
    """No figure differs, and yet the record is not what was written; with new digests it is, which is why there are seals."""
    forged = json.loads(json.dumps(written))
    forged["asked"]["case"]["by"] = "B. Cooper"
    path = tmp_path / "r.json"
    path.write_text(json.dumps(forged), encoding="utf-8")
    code, output = run(path, "--json", tmp_path / "v.json")
    (entry,) = json.loads((tmp_path / "v.json").read_text(encoding="utf-8"))["records"]
    assert code == 3 and "does not say what the program wrote" in output
    assert entry["rewritten"] and entry["outcome"] == "differs" and not entry["differing"]
    path.write_text(json.dumps(with_digests(forged)), encoding="utf-8")
    assert run(path)[0] == 0
    path.write_text(json.dumps({**written, "digests": None}), encoding="utf-8")
    code, output = run(path)
    assert code == 0 and "holds no digests of itself" in " ".join(output.split())
