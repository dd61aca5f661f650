"""What is no Python file and lies in a package is installed with it: templates, weights, rules, catalogues."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
DATA = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]["package-data"]


@pytest.mark.parametrize("package", ["photomeasure", "calib"])
def test_every_file_of_a_package_is_installed(package: str) -> None:
    """Pages of the front door lay in folders that the patterns did not reach: they worked from the checkout alone."""
    folder = ROOT / package
    named = {path for pattern in DATA[package] for path in folder.glob(pattern)}
    lying = {path for path in folder.rglob("*") if path.is_file() and path.suffix not in (".py", ".pyc")}
    assert lying and {str(path.relative_to(ROOT)) for path in lying - named} == set()


@pytest.mark.parametrize("package", ["photomeasure", "calib"])
def test_every_folder_with_modules_is_a_package(package: str) -> None:
    folders = {path.parent for path in (ROOT / package).rglob("*.py")}
    assert {str(folder.relative_to(ROOT)) for folder in folders if not (folder / "__init__.py").is_file()} == set()
