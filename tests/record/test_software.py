"""What a record says of the program that computed it: a digest of all its files, so that no other program passes for it."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

import calib
import photomeasure
from photomeasure.record import measure_and_record
from photomeasure.record.measure_and_record import software


def test_the_digest_is_of_every_module_and_data_file_of_both_packages() -> None:
    """Worked out anew from a list of the files."""
    digest = hashlib.sha256()
    folders: dict[str, list[Path]] = {}
    for package in (calib, photomeasure):
        top = Path(package.__path__[0])
        found = [path for path in top.rglob("*") if path.suffix in (".py", ".toml", ".npz")]
        assert {path.relative_to(top.parent).parts[0] for path in found} == {package.__name__}
        for path in found:
            folders.setdefault(path.parent.relative_to(top.parent).as_posix(), []).append(path)
    for folder in sorted(folders, key=lambda name: name.split("/")):
        for path in sorted(folders[folder]):
            digest.update(f"{folder}/{path.name}".encode())
            digest.update(path.read_bytes())
    assert software()["program files"] == digest.hexdigest()[:12]


def test_one_more_sign_in_any_file_is_another_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for package in (calib, photomeasure):
        copied = tmp_path / package.__name__
        shutil.copytree(package.__path__[0], copied, ignore=shutil.ignore_patterns("__pycache__"))
        monkeypatch.setattr(package, "__path__", [str(copied)])
    first = measure_and_record._program_digest()
    assert first == software()["program files"]  # the same program in another folder
    for name in ("photomeasure/solution/model.py", "calib/camera/camera.py", "photomeasure/seen/centre/ball/nets.npz"):
        file = tmp_path / name
        kept = file.read_bytes()
        file.write_bytes(kept + b"\n")
        assert measure_and_record._program_digest() != first
        file.write_bytes(kept)
    assert measure_and_record._program_digest() == first
