"""Public names of a package that are loaded when they are used (PEP 562)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def late(package: str, where: Mapping[str, str]) -> Callable[[str], Any]:
    """A package's `__getattr__`: each name from the module that has it; AttributeError for any other."""

    def get(name: str) -> Any:
        if name in where:
            return getattr(import_module(where[name]), name)
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    return get
