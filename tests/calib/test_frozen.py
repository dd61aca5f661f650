"""The project's frozen dataclasses do what those of the standard library do: each case is held against the library's own."""

from __future__ import annotations

import copy
import inspect
import pickle
from collections.abc import Callable
from dataclasses import FrozenInstanceError, asdict, field, fields, is_dataclass, replace
from dataclasses import dataclass as of_the_library
from typing import Any, ClassVar

import pytest

from calib.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Ours:
    """A class with all that a field can have."""

    unit: ClassVar[str] = "mm"
    a: float
    b: tuple[int, ...] = (1, 2)
    c: dict[str, int] = field(default_factory=dict, compare=False)
    hidden: str = field(default="x", repr=False, hash=False)
    found: dict[str, int] = field(default_factory=dict, init=False, compare=False)
    fixed: int = field(default=7, init=False)

    def __post_init__(self) -> None:
        if self.a < 0.0:
            raise ValueError("negative")


@of_the_library(frozen=True, slots=True, kw_only=True)
class Theirs:
    """The same, by the library."""

    unit: ClassVar[str] = "mm"
    a: float
    b: tuple[int, ...] = (1, 2)
    c: dict[str, int] = field(default_factory=dict, compare=False)
    hidden: str = field(default="x", repr=False, hash=False)
    found: dict[str, int] = field(default_factory=dict, init=False, compare=False)
    fixed: int = field(default=7, init=False)

    def __post_init__(self) -> None:
        if self.a < 0.0:
            raise ValueError("negative")


@dataclass(frozen=True, slots=True, kw_only=True)
class Empty:
    """No field at all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class One:
    """One field: compared as a value, not by the value's own class."""

    a: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived(One):
    """One field more than its base."""

    b: int = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class ByHand:
    """What a class says itself stays."""

    a: int

    def __eq__(self, other: object) -> bool:
        return True

    def __hash__(self) -> int:
        return 5

    def __repr__(self) -> str:
        return "by hand"


BOTH = (Ours, Theirs)


def _told(job: Callable[[], object]) -> str:
    """The result of a job or its error, without the class's name."""
    try:
        return repr(job()).replace("Theirs", "Ours")
    except Exception as error:
        return f"{type(error).__name__}: {error}".replace("Theirs", "Ours")


@pytest.mark.parametrize(
    "job",
    [
        lambda cls: cls(a=1.0),
        lambda cls: cls(a=1.0, b=(3,), c={"k": 1}, hidden="y"),
        lambda cls: cls(1.0),
        lambda cls: cls(),
        lambda cls: cls(a=1.0, d=2),
        lambda cls: cls(a=1.0, found={}),
        lambda cls: cls(a=-1.0),
        lambda cls: replace(cls(a=1.0), b=(9,)),
        lambda cls: replace(cls(a=1.0), found={}),
        lambda cls: asdict(cls(a=1.0)),
        lambda cls: [(one.name, one.type, one.init, one.repr) for one in fields(cls)],
        lambda cls: pickle.loads(pickle.dumps(cls(a=1.0, c={"k": 1}))),
        lambda cls: copy.deepcopy(cls(a=1.0, c={"k": 1})),
        lambda cls: cls(a=1.0) == cls(a=1.0, c={"k": 1}),
        lambda cls: cls(a=1.0) == cls(a=1.0, hidden="y"),
        lambda cls: cls(a=1.0) == (1.0, (1, 2)),
        lambda cls: hash(cls(a=1.0)) == hash(cls(a=1.0, hidden="y")),
        lambda cls: hash(cls(a=1.0)),
        lambda cls: cls(a=1.0).found is cls(a=1.0).found,
        lambda cls: setattr(cls(a=1.0), "a", 2.0),
        lambda cls: delattr(cls(a=1.0), "a"),
        lambda cls: cls(a=1.0).__dict__,
        lambda cls: cls.unit,
        lambda cls: str(inspect.signature(cls)).replace("<factory>", "MADE"),
        lambda cls: is_dataclass(cls),
        lambda cls: cls.__slots__,
        lambda cls: cls.__doc__ is not None,
    ],
)
def test_it_is_as_the_library_has_it(job: Callable[[type], object]) -> None:
    ours, theirs = (_told(lambda cls=cls: job(cls)) for cls in BOTH)  # type: ignore[misc]
    if "signature" in ours or "->" in ours:  # a factory's place is shown by an object of the library's own
        ours, theirs = (text.partition("c:")[0] for text in (ours, theirs))
    assert ours == theirs


def test_of_no_field_of_one_and_of_a_base() -> None:
    assert Empty() == Empty() and hash(Empty()) == hash(()) and repr(Empty()) == "Empty()"
    assert One(a=1.0) == One(a=1.0) != One(a=2.0) and hash(One(a=1.0)) == hash((1.0,))
    nan = float("nan")
    assert One(a=nan) == One(a=nan)  # the very same object, as the library compares tuples
    assert repr(Derived(a=1.0)) == "Derived(a=1.0, b=2)" and Derived(a=1.0) != One(a=1.0)
    with pytest.raises(FrozenInstanceError):
        Derived(a=1.0).a = 2.0  # type: ignore[misc]


def test_what_a_class_says_itself_stays() -> None:
    assert ByHand(a=1) == ByHand(a=2) and hash(ByHand(a=1)) == 5 and repr(ByHand(a=1)) == "by hand"


def test_another_kind_is_the_librarys_own() -> None:
    @dataclass(slots=True)
    class Plain:
        a: int = 1

    plain: Any = Plain(3)
    plain.a = 4
    assert plain == Plain(4)
