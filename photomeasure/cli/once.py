"""An option that holds one value is given one: of two that differ the second would count, and nobody would be told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from calib.outcome.errors import InputError
from calib.words.said import said


def once_each(parser: Any, typed: Sequence[str]) -> None:
    """parser: the library's, of the command; typed: the words after its name. Raises InputError; the same twice does no harm."""
    _, _, order = parser.parse_args(args=list(typed))
    for parameter, times in Counter(order).items():
        if times > 1 and parameter.param_type_name == "option" and not (parameter.multiple or parameter.count):
            given = list(dict.fromkeys(_given(parameter, typed)))
            if len(given) > 1:
                raise InputError(
                    said("{first} and {second} were both given.", first=given[0], second=given[1]),
                    expected=said("one of them, for only one can hold"),
                    remedy=said("leave the wrong one out"),
                )


def _given(parameter: Any, typed: Sequence[str]) -> Iterator[str]:
    """Each time that it was typed, as it was: "--bar-x 150", "--coupled"."""
    names = {*parameter.opts, *parameter.secondary_opts}
    for word, after in zip(typed, [*typed[1:], ""], strict=True):
        name, equals, value = word.partition("=")
        if word == "--":
            return
        if name in names:
            yield name if parameter.is_flag else f"{name} {value if equals else after}"
