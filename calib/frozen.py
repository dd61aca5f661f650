"""Frozen dataclasses, made in a third of the time that the standard library takes before Python 3.13, the same to whoever uses them.

A run loads some two hundred of them, and the standard library compiles six methods for each: 0.7 ms of some processors, of which
`__init__` alone is needed as a text of its own (`tests/benchmarks/test_dataclass_speed.py`). The other methods are the same few
lines for every class, over the names of its fields. To type checkers this is `dataclasses.dataclass` itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, Field, FrozenInstanceError, fields
from dataclasses import dataclass as of_the_library
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(**how: bool) -> Callable[[type], type]:
        """As of the standard library; what is not frozen, with slots and keywords only, is made by it."""
        if how != {"frozen": True, "slots": True, "kw_only": True}:
            return of_the_library(**how)
        return _frozen


def _frozen(cls: type) -> type:
    made: Any = of_the_library(init=False, repr=False, eq=False, slots=True, kw_only=True)(cls)
    own, of_it = cls.__dict__, fields(made)
    made.__init__ = _init(made, of_it)
    made.__setattr__, made.__delattr__ = _no_setting, _no_deleting
    made.__getstate__, made.__setstate__ = _state, _with_state
    if "__repr__" not in own:
        made.__repr__ = _shown
    if "__eq__" not in own:
        made.__eq__ = _equal
        made._compared = staticmethod(_values([field.name for field in of_it if field.compare]))
    if own.get("__hash__") is None:
        made.__hash__ = _hash
        hashed = [field.name for field in of_it if (field.compare if field.hash is None else field.hash)]
        made._hashed = staticmethod(_values(hashed))
    return made  # type: ignore[no-any-return]


def _init(cls: type, of_it: tuple[Field[Any], ...]) -> Callable[..., None]:
    """The one method that is a text of its own, so that a wrong name is told as Python tells it."""
    known: dict[str, Any] = {"_set": object.__setattr__, "_made": MISSING}
    typed, body = [], []
    for field in of_it:
        name, value = field.name, field.name
        if field.default_factory is not MISSING:
            known[f"_new_{name}"] = field.default_factory
            value = f"_new_{name}() if {name} is _made else {name}" if field.init else f"_new_{name}()"
            typed += [f"{name}=_made"] if field.init else []
        elif field.default is not MISSING:
            known[f"_by_default_{name}"] = field.default
            value = name if field.init else f"_by_default_{name}"
            typed += [f"{name}=_by_default_{name}"] if field.init else []
        elif field.init:
            typed.append(name)
        else:
            continue
        body.append(f" _set(self, {name!r}, {value})")
    if hasattr(cls, "__post_init__"):
        body.append(" self.__post_init__()")
    named = f", *, {', '.join(typed)}" if typed else ""
    exec(f"def __init__(self{named}):\n" + "\n".join(body or [" pass"]), known)
    made: Any = known["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    made.__annotations__ = {field.name: field.type for field in of_it if field.init} | {"return": None}
    return made  # type: ignore[no-any-return]


def _values(names: list[str]) -> Callable[[Any], Any]:
    """What a comparison compares: nothing at all, one value, or a tuple of values."""
    return attrgetter(*names) if len(names) > 1 else _alone(attrgetter(*names)) if names else lambda one: ()


def _alone(get: Callable[[Any], Any]) -> Callable[[Any], tuple[Any]]:
    return lambda one: (get(one),)


def _equal(self: Any, other: Any) -> Any:
    if other.__class__ is not self.__class__:
        return NotImplemented
    return self._compared(self) == self._compared(other)


def _hash(self: Any) -> int:
    return hash(self._hashed(self))


@recursive_repr()
def _shown(self: Any) -> str:
    values = ", ".join(f"{field.name}={getattr(self, field.name)!r}" for field in fields(self) if field.repr)
    return f"{self.__class__.__qualname__}({values})"


def _no_setting(self: object, name: str, value: object) -> None:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _no_deleting(self: object, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _state(self: Any) -> list[Any]:
    return [getattr(self, field.name) for field in fields(self)]


def _with_state(self: Any, state: list[Any]) -> None:
    for field, value in zip(fields(self), state, strict=True):
        object.__setattr__(self, field.name, value)
