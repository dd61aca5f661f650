"""The commands, a module each; a new module joins by being here, and is loaded when one of its commands is typed."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Mapping, MutableMapping
from typing import Any

from photomeasure.cli.app import made, names
from photomeasure.cli.listed import LISTED


class Commands(MutableMapping[str, Any]):
    """The program's commands by name: all names are known at once, each command is made when it is asked for.

    made: those that have joined the program already.
    """

    def __init__(self, made: Mapping[str, Any]) -> None:
        self._made = dict(made)
        self._names = list(dict.fromkeys((*LISTED, *self._made)))
        listed = {row.module or name for name, row in LISTED.items()}
        for module in pkgutil.iter_modules(__path__):
            if module.name not in listed:
                self._joined(module.name)

    def __getitem__(self, name: str) -> Any:
        if name not in self._made:
            if name in LISTED:
                self._joined(LISTED[name].module or name)
            self._made[name] = made(name)
        return self._made[name]

    def __setitem__(self, name: str, command: Any) -> None:
        self._made[name] = command
        if name not in self._names:
            self._names.append(name)

    def __delitem__(self, name: str) -> None:
        self._names.remove(name)
        self._made.pop(name, None)

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)

    def __contains__(self, name: object) -> bool:
        return name in self._names

    def _joined(self, module: str) -> None:
        """Import a module, by which its commands join the program."""
        importlib.import_module(f"{__name__}.{module}")
        self._names += [name for name in names() if name not in self._names]
