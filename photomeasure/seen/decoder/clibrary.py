"""Functions of a C library as a Python extension has loaded it, where that has no name for them."""

from __future__ import annotations

import ctypes
from collections.abc import Mapping

Takes = Mapping[
    str, tuple[object, tuple[object, ...]]
]  # of each function what it returns and takes, as types of ctypes


def functions_of(extension: str, takes: Takes) -> ctypes.CDLL | None:
    """extension: the file of the module that has loaded the library. None where one of the functions cannot be reached."""
    try:
        found = ctypes.CDLL(extension)
        for name, (result, arguments) in takes.items():
            function = getattr(found, name)
            function.restype, function.argtypes = result, arguments
    except (OSError, AttributeError):
        return None
    return found
