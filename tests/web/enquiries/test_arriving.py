"""Photographs arrive whole or not at all, go on where they broke off, and are one photograph however often they are sent."""

from __future__ import annotations

import errno
import hashlib
import io
import os
import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest

from photomeasure.web.database import connected
from photomeasure.web.enquiries import arriving
from photomeasure.web.enquiries.arriving import Arriving, OffsetError, append, begin, find, whole
from photomeasure.web.enquiries.enquiry import Enquiry, Photograph
from photomeasure.web.enquiries.photographs import leave_out, of_this_round, photographs_of
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.guards import PHOTO_BYTES
from photomeasure.web.problems import PageError
from photomeasure.web.store import Store

DATA = bytes(range(256)) * 40


def begun(shelf: Shelf, enquiry: Enquiry, mark: str = "a", size: int = len(DATA)) -> Arriving:
    found = begin(shelf, enquiry, mark, "IMG 1.jpg", size)
    assert isinstance(found, Arriving)
    return found


def test_in_pieces_with_a_break_and_a_new_start(tmp_path: Path) -> None:
    from photomeasure.web.enquiries.enquiry import About

    store = Store(tmp_path / "kept")
    enquiry = store.shelf.make(About(rig="Ferncombe 7", customer="Ada"))
    first = begun(store.shelf, enquiry)
    append(store.shelf, enquiry, first, 0, DATA[:3000])
    store.close()
    store = Store(tmp_path / "kept")
    shelf = store.shelf
    again = begun(shelf, enquiry)
    assert again.key == first.key and again.offset == 3000 and photographs_of(shelf, enquiry) == ()
    for offset in (0, 2999, 3001):
        with pytest.raises(OffsetError) as caught:
            append(shelf, enquiry, again, offset, DATA[:1])
        assert caught.value.offset == 3000
    done = append(shelf, enquiry, again, 3000, DATA[3000:])
    assert isinstance(done, Photograph) and done.sha256 == hashlib.sha256(DATA).hexdigest()
    assert (shelf.folder(enquiry) / done.file).read_bytes() == DATA and photographs_of(shelf, enquiry) == (done,)
    assert find(shelf, enquiry, first.key) == done == begin(shelf, enquiry, "a", "IMG 1.jpg", len(DATA))
    store.close()


def test_killed_between_the_last_piece_and_the_row_it_is_finished_by_an_empty_piece(
    shelf: Shelf, enquiry: Enquiry, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as breaking:
        breaking.setattr(arriving, "_arrived", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            append(shelf, enquiry, begun(shelf, enquiry), 0, DATA)
    again = begun(shelf, enquiry)
    assert again.offset == len(DATA) and photographs_of(shelf, enquiry) == ()
    assert isinstance(append(shelf, enquiry, again, len(DATA), b""), Photograph)


def test_the_same_file_is_the_same_photograph_and_wanted_again(shelf: Shelf, enquiry: Enquiry) -> None:
    first = whole(shelf, enquiry, "one.jpg", io.BytesIO(DATA), len(DATA))
    leave_out(shelf, enquiry, first.number)
    second = append(shelf, enquiry, begun(shelf, enquiry, "b"), 0, DATA)
    assert isinstance(second, Photograph) and second.number == first.number and not second.left_out
    assert len(list(shelf.folder(enquiry).iterdir())) == 1


def test_what_was_left_out_or_is_of_an_earlier_round_counts_again_when_it_is_sent_again(
    shelf: Shelf, enquiry: Enquiry
) -> None:
    done = append(shelf, enquiry, begun(shelf, enquiry), 0, DATA)
    assert isinstance(done, Photograph)
    leave_out(shelf, enquiry, done.number)
    again = begin(shelf, enquiry, "a", "IMG 1.jpg", len(DATA))
    assert isinstance(again, Photograph) and not again.left_out
    shelf.next_round(enquiry.key)
    later = shelf.get(enquiry.key)
    assert later is not None and of_this_round(shelf, later) == ()
    again = begin(shelf, later, "a", "IMG 1.jpg", len(DATA))
    assert isinstance(again, Photograph) and of_this_round(shelf, later) == (again,)


def test_no_more_than_was_said_than_there_is_room_for_and_than_one_link_may(
    shelf: Shelf, enquiry: Enquiry, monkeypatch: pytest.MonkeyPatch
) -> None:
    for size in (0, -1, PHOTO_BYTES + 1):
        with pytest.raises(PageError):
            begin(shelf, enquiry, "large", "x", size)
    with pytest.raises(PageError):
        append(shelf, enquiry, begun(shelf, enquiry, size=5), 0, DATA)
    for number in range(arriving.MOST_OF_ONE):
        whole(shelf, enquiry, "x", io.BytesIO(b"%d" % number), 2)
    with pytest.raises(PageError, match="No more photographs"):
        begun(shelf, enquiry, "another")
    other = shelf.make(enquiry.about)
    for number in range(arriving.MOST_BEGUN + 3):  # those that were given up make room
        begun(shelf, other, f"given up {number}")
    assert len(list(shelf.folder(other).iterdir())) == arriving.MOST_BEGUN
    full = SimpleNamespace(total=10**12, used=10**12, free=arriving.FREE_BYTES)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: full)
    with pytest.raises(PageError, match="no room"):
        begun(shelf, shelf.make(enquiry.about), "full")


def test_an_empty_file_is_told_as_one(shelf: Shelf, enquiry: Enquiry) -> None:
    """A photograph that a phone keeps in its cloud only: "larger than 64 MB" was said of it."""
    with pytest.raises(PageError, match="is empty") as caught:
        begin(shelf, enquiry, "a", "IMG.jpg", 0)
    assert "cloud" in caught.value.expected and photographs_of(shelf, enquiry) == ()


def test_more_than_was_said_is_told_as_that(shelf: Shelf, enquiry: Enquiry) -> None:
    """And not "larger than 0 MB"."""
    with pytest.raises(PageError, match="More of this photograph came"):
        append(shelf, enquiry, begun(shelf, enquiry), 0, DATA + b"x")


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_what_the_disk_does_not_take_at_the_last_moment_leaves_nothing(
    number: int, shelf: Shelf, enquiry: Enquiry, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A form's photograph comes under a mark that nobody knows again."""

    def not_taken(_: int) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", not_taken)
    with pytest.raises(OSError if number == errno.EIO else PageError) as caught:
        whole(shelf, enquiry, "one.jpg", io.BytesIO(DATA), len(DATA))
    assert caught.value.__cause__ is not caught.value and list(shelf.folder(enquiry).iterdir()) == []
    with connected(shelf.database) as database:
        assert database.execute("SELECT count(*) FROM arriving").fetchone()[0] == 0
