"""Functions of scipy.special without the package's own start: the same functions, and the package comes as ever."""

from __future__ import annotations

import subprocess
import sys
import threading

import scipy.special

from calib.special import special

NAMES = ("chdtrc", "ndtr", "sici", "stdtrit")


def told(program: str) -> str:
    return subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.strip()


def test_they_are_the_packages_own_functions() -> None:
    for name in NAMES:
        assert getattr(special(), name) is getattr(scipy.special, name)


def test_the_package_is_not_loaded_for_them_and_comes_as_ever_afterwards() -> None:
    program = f"""
import sys
from calib.special import special
early = [getattr(special(), name) for name in {NAMES}]
print('numpy.f2py' in sys.modules, 'scipy.special' in sys.modules, end=' ')
import scipy.special, scipy.stats
print([getattr(scipy.special, name) for name in {NAMES}] == early, round(scipy.stats.norm.cdf(0.0), 3))
"""
    assert told(program) == "False False True 0.5"


def test_beside_another_thread_it_is_the_package() -> None:
    """A thread that imports the package meanwhile must never find the folder that stands in for it."""
    program = """
import sys, threading
from calib.special import special
thread = threading.Thread(target=special)
thread.start()
thread.join()
print(special().__name__)
"""
    assert told(program) == "scipy.special"
    assert threading.current_thread() is threading.main_thread()
