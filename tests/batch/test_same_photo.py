"""One photograph under two rigs, cut, shrunk or saved anew in between, is said in both rows; photographs of their own are not."""

from __future__ import annotations

import tomllib
from pathlib import Path

from PIL import Image

from photomeasure.batch.rows import Done, Row, rows_of
from photomeasure.batch.same_photo import MOST_OTHERS, PhotoSeen, others_with, photos_seen
from photomeasure.record.measure_and_record import recorded
from tests.sample_requests import SAMPLES, sample_request


def seen_in(path: Path, **changes: object) -> tuple[PhotoSeen, ...]:
    _, record = recorded(sample_request("within", photos=(path,), **changes), seed=None)
    return photos_seen(record)


def test_copies_of_one_photograph_are_found(tmp_path: Path) -> None:
    """As a chat program shrinks it, with EXIF gone; and cut, EXIF kept: the centre is found in each anew."""
    with Image.open(SAMPLES / "within.jpg") as image:
        image.resize((1600, 1200)).save(tmp_path / "sent.jpg", quality=70)
        image.crop((400, 200, 3600, 2900)).save(tmp_path / "cut.jpg", quality=85, exif=image.getexif())
    paths = {"whole": SAMPLES / "within.jpg", "sent": tmp_path / "sent.jpg", "cut": tmp_path / "cut.jpg"}
    done = [Done(row=Row(rig=rig, photos=""), photos=seen_in(path, centres_px=())) for rig, path in paths.items()]
    others = {row.rig: row.same_photo_as for row in rows_of(done)}
    assert others == {"whole": "sent | cut", "sent": "whole | cut", "cut": "whole | sent"}


def test_three_photographs_of_one_rig_are_their_own() -> None:
    """And one whose clock says another second is another photograph, however alike."""
    truth = tomllib.loads((SAMPLES / "set.toml").read_text(encoding="utf-8"))
    files = tuple(SAMPLES / file for file in truth["files"])
    _, record = recorded(sample_request("set", photos=files), seed=None)
    each = photos_seen(record)
    done = [Done(row=Row(rig=str(number), photos=""), photos=(one,)) for number, one in enumerate(each)]
    assert [row.same_photo_as for row in rows_of(done)] == ["", "", ""]
    one = each[0]
    later = PhotoSeen(sha256="other", sheet_px=one.sheet_px, centre_px=one.centre_px, taken="2026-01-01T00:00:01")
    earlier = PhotoSeen(sha256="first", sheet_px=one.sheet_px, centre_px=one.centre_px, taken="2026-01-01T00:00:00")
    bare = PhotoSeen(sha256="bare", sheet_px=one.sheet_px, centre_px=one.centre_px)
    done = [
        Done(row=Row(rig=name, photos=""), photos=(seen,)) for name, seen in (("a", later), ("b", earlier), ("c", bare))
    ]
    assert [row.same_photo_as for row in rows_of(done)] == ["c", "c", "a | b"]


def test_one_picture_under_hundreds_of_rigs_names_a_few_of_them() -> None:
    """By its bytes, and by sight: each row says that there are more, and nobody counts every pair."""
    corners = ((100.0, 100.0), (900.0, 120.0), (880.0, 700.0), (90.0, 690.0))
    sent = [PhotoSeen(sha256="one") for _ in range(300)]
    saved = [PhotoSeen(sha256=f"{number}", sheet_px=corners, centre_px=(500.0, 300.0)) for number in range(300)]
    rows = rows_of([Done(row=Row(rig=f"{n}", photos=""), photos=(seen,)) for n, seen in enumerate([*sent, *saved])])
    for row in rows:
        *named, last = row.same_photo_as.split(" | ")
        assert len(named) == len(set(named)) == MOST_OTHERS and last == "and more"
        assert all((int(other) < 300) is (int(row.rig) < 300) for other in named) and row.rig not in named
    assert sum(map(len, others_with([(n, seen) for n, seen in enumerate(sent)]).values())) < 30 * len(sent)
