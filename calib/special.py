"""Functions of `scipy.special` by their compiled module alone, bit for bit the same.

The package's own start makes each of them work on other libraries' arrays too and loads, for that, numpy's tests and a Fortran
compiler's front end: 0.2 s of a processor, a seventh of a measurement of three photographs; the compiled module takes a twentieth.
"""

from __future__ import annotations

import sys
import threading
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import Any

_PACKAGE, _COMPILED = "scipy.special", "scipy.special._ufuncs"


@cache
def special() -> Any:
    """A module with `chdtrc`, `ndtr`, `sici`, `stdtrit` and the others that are compiled.

    Where the package is loaded already, where another thread might be loading it, or where it is built otherwise, it is the package.
    """
    alone = threading.current_thread() is threading.main_thread()
    if _PACKAGE not in sys.modules and alone and (compiled := _compiled()) is not None:
        return compiled
    return import_module(_PACKAGE)


def _compiled() -> ModuleType | None:
    """The compiled module, loaded while a bare folder stands in for its package; the package comes as ever when it is imported."""
    spec = find_spec(_PACKAGE)
    if spec is None or spec.submodule_search_locations is None:
        return None
    folder = ModuleType(_PACKAGE)
    folder.__path__, folder.__spec__ = list(spec.submodule_search_locations), spec
    sys.modules[_PACKAGE] = folder
    try:
        return import_module(_COMPILED)
    except ImportError:
        return None
    finally:
        if sys.modules.get(_PACKAGE) is folder:
            del sys.modules[_PACKAGE]
