"""A frozen dataclass made by the standard library and by `calib.frozen`: `pytest --benchmark-enable tests/benchmarks/test_dataclass_speed.py`.

Of six fields, the middle of what the program has. With Python 3.11 a run's two hundred cost a twelfth of all of it by the library.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass as of_the_library
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from calib.frozen import dataclass

WAYS: dict[str, Any] = {"library": of_the_library, "ours": dataclass}


@pytest.mark.parametrize("name", WAYS)
def test_made(name: str, benchmark: BenchmarkFixture) -> None:
    how: Callable[[type], type] = WAYS[name](frozen=True, slots=True, kw_only=True)

    def made() -> type:
        fields = {f"value_{i}_mm": "float" for i in range(6)}
        return how(type("Row", (), {"__annotations__": fields, "__doc__": "A row.", "__module__": __name__}))

    assert benchmark(made)(**{f"value_{i}_mm": 0.0 for i in range(6)}) is not None
