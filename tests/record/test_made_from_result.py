"""What a record says of photographs and of what was carried over, part by part, without measuring a picture again."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from calib.kit.kit import kit
from photomeasure.asked.sag import Sag
from photomeasure.interval.carried import carried_u_mm, sink_mm
from photomeasure.interval.pair import Before, before_of
from photomeasure.record.bar_parts import bar_parts
from photomeasure.record.made_from_result import advice_of
from photomeasure.record.measure_and_record import file_digest
from photomeasure.record.seen_parts import print_number, view_part
from photomeasure.seen.camera_by_exif import ExifFacts
from photomeasure.seen.given import given
from photomeasure.solution.estimate import Estimate, estimate
from tests.points.pair import Pair, pair
from tests.points.pair_as_one import as_one
from tests.points.simulate import Shot, simulate


@cache
def two_records() -> Pair:
    one = pair(np.random.default_rng(73), before=Shot(source="ball"), after=Shot(), sheet_untouched=True)
    assert one is not None
    return one


@cache
def one_solution() -> tuple[Estimate, Before]:
    found = estimate(as_one(np.random.default_rng(74), sheet_untouched=True, tags=(26,)).scene)
    assert isinstance(found, Estimate)
    before = before_of(found)
    assert before is not None
    return found, before


def parts(solved: Estimate, source: str, tags: tuple[int, ...] = (), **asked: object) -> dict[str, Any]:
    """What a record says of bar tags. Photographs: one of now, two of before."""
    request = {"carried": None, "standing": False, "sag": Sag(), "sheet_untouched": None, **asked}
    views = [
        SimpleNamespace(before=before, photo=SimpleNamespace(path=Path("place") / name))
        for name, before in (("now.jpg", False), ("then-1.jpg", True), ("then-2.jpg", True))
    ]
    sightings = SimpleNamespace(way=source, bar_tags=tags)
    result = SimpleNamespace(estimate=solved, sightings=sightings, request=SimpleNamespace(**request), views=views)
    return bar_parts(result)  # type: ignore[arg-type]


def test_a_centre_that_a_record_carried_names_that_record() -> None:
    one = two_records()
    said = parts(one.after, "carried", (26,), carried=one.carried)
    assert set(said) == {"carried", "sink", "before"}
    assert (said["carried"].record, said["carried"].tag) == ("before.json", 26)
    assert said["carried"].u_mm == carried_u_mm(one.after)
    assert (said["sink"].mm, said["sink"].u_mm) == sink_mm(one.after, one.carried)
    assert (said["before"].record, said["before"].height_mm) == ("before.json", one.before.height_mm)
    assert said["before"].u_mm == one.before.u_mm and said["before"].sheet_untouched is True


def test_a_centre_that_photographs_carried_names_those_of_before() -> None:
    solved, before = one_solution()
    said = parts(solved, "carried", (26,), sheet_untouched=True)
    assert set(said) == {"carried", "sink", "before"}
    assert (said["carried"].record, said["carried"].u_mm) == ("then-1.jpg, then-2.jpg", before.carried_u_mm)
    assert (said["sink"].mm, said["sink"].u_mm) == (before.sank_mm, before.u_sank_mm)
    assert (said["before"].record, said["before"].height_mm) == (None, before.height_mm)


def test_a_centre_that_is_in_sight_is_carried_by_nothing_and_is_there_for_a_later_photograph() -> None:
    solved, _ = one_solution()
    said = parts(solved, "ball", (26,))
    assert set(said) == {"bar", "sink", "before"} and said["bar"].tag == 26
    assert parts(two_records().before, "ball") == {}


def test_a_stand_test_is_the_drop_and_no_sinking() -> None:
    solved, before = one_solution()
    said = parts(solved, "ball", standing=True, sag=Sag(stand_mass_kg=85.0))
    assert set(said) == {"stand_test"}
    assert (said["stand_test"].mass_kg, said["stand_test"].drop_mm) == (85.0, -before.sank_mm)
    assert (said["stand_test"].u_mm, said["stand_test"].u_standing_mm) == (before.u_sank_mm, before.u_mm)


@pytest.fixture(scope="module")
def solved() -> Estimate:
    found = estimate(simulate(Shot(), np.random.default_rng(75)).scene)
    assert isinstance(found, Estimate)
    return found


def seen(**changes: Any) -> Any:
    """A view of one upright sheet of 30 corners."""
    facts = ExifFacts(focal_35mm=26.0)
    photo = SimpleNamespace(path=Path("place/a.jpg"), sha256="0" * 64, size_px=(400, 300), facts=facts)
    sheet = SimpleNamespace(
        index=np.arange(30),
        cell_px=41.237,
        blur_px=0.714,
        sheet=kit("a4").upright,
        px_from_page=np.diag([2.0, 2.0, 1.0]),
    )
    finding = SimpleNamespace(all=(sheet,), of_role=lambda role: sheet if role == "upright" else None)
    given = {"photo": photo, "finding": finding, "markers": None, "before": False, "number": None}
    return SimpleNamespace(**(given | changes))


def test_corners_are_those_of_every_sheet_and_of_the_bays_markers(solved: Estimate) -> None:
    result: Any = SimpleNamespace(estimate=solved)
    alone = view_part(seen(), result, 0)
    assert (alone.corners, alone.cell_px, alone.blur_px, alone.before) == (30, 41.24, 0.71, False)
    assert alone.sheet_px is not None and np.ptp(np.array(alone.sheet_px), axis=0) == pytest.approx(
        2.0 * np.ptp(kit("a4").upright.points_mm, axis=0), abs=0.02
    )
    bay = view_part(seen(markers=SimpleNamespace(names=("1.0", "1.1", "1.2", "1.3"))), result, 0)
    assert bay.corners == 34
    only = SimpleNamespace(all=(), of_role=lambda role: None)
    bare = view_part(seen(finding=only, markers=SimpleNamespace(names=("1.0", "1.1"))), result, 0)
    assert (bare.corners, bare.cell_px, bare.blur_px) == (2, None, None)


def test_how_far_the_lens_was_is_from_lens_to_centre(solved: Estimate) -> None:
    """The lens stands 2 m before the sheet and 450 mm high, a hand's scatter of 40 mm aside (`Shot`)."""
    part = view_part(seen(), SimpleNamespace(estimate=solved), 0)  # type: ignore[arg-type]
    assert part.distance_mm == pytest.approx(2000, abs=160) and part.lens_height_mm == pytest.approx(450, abs=160)


@pytest.mark.parametrize(("numbers", "expected"), [((7, None), 7), ((7, 7), 7), ((7, 8), None), ((None,), None)])
def test_a_prints_number_is_kept_where_all_photographs_say_the_same(
    numbers: tuple[int | None, ...], expected: int | None
) -> None:
    assert print_number([seen(number=number) for number in numbers]) == expected


def test_a_pair_gets_no_advice_that_is_worked_out_of_photographs_of_one_moment(solved: Estimate) -> None:
    request = SimpleNamespace(bay=None, before_photos=("then.jpg",))
    assert advice_of(SimpleNamespace(views=[seen()], request=request, estimate=solved)) == ()  # type: ignore[arg-type]


def test_bytes_that_came_along_are_known_by_their_own_digest(tmp_path: Path) -> None:
    """A worker on another machine has the bytes and no such file; sha256sum of "photo" (RFC 6234's algorithm, by hashlib)."""
    path = tmp_path / "not here.jpg"
    assert file_digest(path) is None
    with given({path: b"photo"}):
        assert file_digest(path) == hashlib.sha256(b"photo").hexdigest()
