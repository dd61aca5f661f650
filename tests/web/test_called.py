"""Photographs go by the person's names while they are looked at, and what lies under those names elsewhere is never opened."""

from __future__ import annotations

from pathlib import Path

import pytest

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from calib.words.said import Said
from photomeasure.seen.image import load
from photomeasure.web.bench import previewed
from photomeasure.web.called import called
from photomeasure.web.cases import Upload
from photomeasure.web.problems import of_the_disk


def test_a_name_stands_for_the_stored_bytes_and_for_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file of that very name in the folder of work is another person's; a stored one that is gone is told by its name."""
    monkeypatch.chdir(tmp_path)
    Path("IMG.jpg").write_bytes(b"somebody else's")
    (tmp_path / "upload-1").write_bytes(b"no photograph")
    with called([(tmp_path / "upload-1", "IMG.jpg"), (tmp_path / "upload-2", "gone.jpg")]):
        found = load(Path("IMG.jpg"))
        assert isinstance(found, Refusal) and found.reason.startswith("IMG.jpg cannot be read")
        with pytest.raises(InputError, match=r"gone\.jpg is no longer here") as gone:
            load(Path("gone.jpg"))
        assert of_the_disk(gone.value) is None  # one photograph that was deleted, not the folder of all of them
    assert not Path("gone.jpg").exists()


def test_a_refused_preview_names_the_persons_file_and_can_still_be_told_in_another_language(tmp_path: Path) -> None:
    path = tmp_path / "upload-1"
    path.write_bytes(b"")
    refused = previewed(Upload(path=path, name="upload-1 of the yard.jpg", sha256=""), tmp_path / "preview")
    assert isinstance(refused, Refusal) and isinstance(refused.reason, Said)
    assert (
        refused.reason.startswith("upload-1 of the yard.jpg ")
        and refused.reason.values["path"] == "upload-1 of the yard.jpg"
    )
