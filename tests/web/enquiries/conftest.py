"""A store with one enquiry in it; the program as a process of its own."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from photomeasure.web.enquiries.enquiry import About, Enquiry
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.store import Store
from tests.web.enquiries.hands import Program


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


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    running = Program(tmp_path_factory.mktemp("door"))
    running.start()
    yield running
    running.kill(signal.SIGTERM)
