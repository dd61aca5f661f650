"""A store with one enquiry in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from photomeasure.web.enquiries.enquiry import About, Enquiry
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.store import Store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "kept")
    yield opened
    opened.close()


@pytest.fixture
def shelf(store: Store) -> Shelf:
    return store.shelf


@pytest.fixture
def enquiry(shelf: Shelf) -> Enquiry:
    return shelf.make(About(rig="Ferncombe 7", customer="Ada"))
