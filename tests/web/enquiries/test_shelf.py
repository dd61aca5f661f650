"""Enquiries, their links, and the dealer's settings: what is kept of them, and what is not."""

from __future__ import annotations

import re
import sqlite3
from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from photomeasure.web.enquiries.enquiry import About, Enquiry
from photomeasure.web.enquiries.links import digest_of, new_secret
from photomeasure.web.enquiries.settings import Settings, settings_from
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.store import Store
from photomeasure.web.when import DAY_S


def test_what_was_typed_and_answered_is_there_after_a_new_start(tmp_path: Path) -> None:
    first = Store(tmp_path / "kept")
    about = About(rig="Ferncombe 7", customer="Ada", coupling="other-ball", ball_diameter="50.8", by="Bo", by_post=True)
    made = first.shelf.make(about)
    first.shelf.answer(made.key, {"coupled": "no"})
    first.shelf.answer(made.key, {"laden": "", "bars": "none"})
    first.close()
    again = Store(tmp_path / "kept")
    found = again.shelf.get(made.key)
    assert found is not None and found.about == about and found.made == made.made
    assert found.answers == {"coupled": "no", "laden": "", "bars": "none"} and found.next_question == "level_ground"
    assert again.shelf.folder(found).is_dir() and again.shelf.get("another") is None
    again.close()


def test_a_secret_has_128_bits_and_only_its_digest_is_kept(shelf: Shelf, enquiry: Enquiry) -> None:
    """31 signs, 26 places: 31**26 > 2**128."""
    secrets = {new_secret() for _ in range(200)}
    assert len(secrets) == 200 and all(re.fullmatch("[a-km-np-z2-9]{26}", secret) for secret in secrets)
    secret = shelf.new_link(enquiry.key, 21)
    assert secret.encode() not in shelf.database.read_bytes()
    assert digest_of(secret).encode() in shelf.database.read_bytes()
    link = shelf.link_by(secret)
    assert link is not None and link.enquiry == enquiry.key and shelf.link_by(secret[:-1]) is None


def test_a_link_ends_by_its_day_by_hand_and_by_a_new_one(shelf: Shelf, enquiry: Enquiry) -> None:
    first = shelf.new_link(enquiry.key, 21)
    link = shelf.link_by(first)
    assert link is not None and link.is_open(link.made + 20.9 * DAY_S) and not link.is_open(link.made + 21.1 * DAY_S)
    second = shelf.new_link(enquiry.key, 21)
    old, new = shelf.link_by(first), shelf.link_by(second)
    assert old is not None and not old.is_open(old.made) and new is not None and new.is_open(new.made)
    shelf.withdraw(enquiry.key)
    ended = shelf.link_of(enquiry.key)
    assert ended is not None and ended.withdrawn is not None and not ended.is_open(ended.made)


def test_news_is_new_until_it_is_seen(shelf: Shelf, enquiry: Enquiry) -> None:
    def now() -> Enquiry:
        found = shelf.get(enquiry.key)
        assert found is not None
        return found

    assert not now().is_new
    shelf.stamp(enquiry.key, "opened", at=5.0)
    shelf.stamp(enquiry.key, "opened", at=6.0)
    assert now().opened == 5.0
    shelf.ask(enquiry.key, "One from further right")
    shelf.sent(enquiry.key)
    assert now().is_new and now().ask == ""
    shelf.stamp(enquiry.key, "seen")
    assert not now().is_new


def test_a_store_of_the_first_edition_is_brought_to_this_one_and_a_later_one_left_alone(tmp_path: Path) -> None:
    folder = tmp_path / "old"
    (folder / "photographs").mkdir(parents=True)
    with sqlite3.connect(folder / "store.sqlite") as database:
        database.execute(
            "CREATE TABLE cases (key TEXT PRIMARY KEY, folder TEXT NOT NULL, result TEXT NOT NULL, saved REAL NOT NULL, "
            "about TEXT NOT NULL)"
        )
        database.execute("INSERT INTO cases VALUES ('k', 'f', 'r', 1.0, '{}')")
        database.execute(f"PRAGMA application_id = {0x70686D73}")
        database.execute("PRAGMA user_version = 1")
    store = Store(folder)
    made = store.shelf.make(About(rig="Ferncombe 7", customer="Ada"))
    assert store.shelf.get(made.key) is not None
    store.close()
    with sqlite3.connect(folder / "store.sqlite") as database:
        assert database.execute("SELECT key FROM cases").fetchall() == [("k",)]
        assert database.execute("PRAGMA user_version").fetchone() == (3,)
        database.execute("PRAGMA user_version = 4")
    with pytest.raises(InputError, match="edition"):
        Store(folder)


def test_settings_are_kept_and_slips_are_said(shelf: Shelf) -> None:
    assert shelf.settings() == Settings(name="", keep_days=90, link_days=21)
    typed, wrong = settings_from({"name": " Ferncombe  Trailers ", "keep_days": "30", "link_days": "7"})
    assert not wrong
    shelf.set(typed)
    assert shelf.settings() == Settings(name="Ferncombe Trailers", keep_days=30, link_days=7)
    assert set(settings_from({"keep_days": "-1", "link_days": "soon"})[1]) == {"keep_days", "link_days"}
    assert set(settings_from({"keep_days": "0", "link_days": "0"})[1]) == {"link_days"}
