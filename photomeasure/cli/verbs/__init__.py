"""The commands, a module each; a new module joins by being here."""

from __future__ import annotations

import importlib
import pkgutil


def load_all() -> None:
    """Import every module of this folder, by which its commands join the program."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
