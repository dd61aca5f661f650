"""A command asks the questions of the table: its parameter `said` becomes one option for each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from inspect import Parameter, Signature, signature
from typing import TypeVar, get_type_hints

import typer

from photomeasure.asked.fields import open_at
from photomeasure.asked.question import Door, Question
from photomeasure.asked.stated import Stated
from photomeasure.cli.options import annotation

_Result = TypeVar("_Result")
_CONTEXT = "context"


def states(door: Door) -> Callable[[Callable[..., _Result]], Callable[..., _Result]]:
    """Dress a command whose parameter `said` takes what a person states of a rig: the options stand at its place."""

    def dress(command: Callable[..., _Result]) -> Callable[..., _Result]:
        questions = open_at(door)

        def dressed(**typed: object) -> _Result:
            by_default = _by_default(typed.pop(_CONTEXT, None), questions)
            answers = {question.name: typed.pop(question.parameter) for question in questions}
            said = Stated(**answers, by_default=by_default or None)  # type: ignore[arg-type]
            return command(said=said, **typed)

        options = [
            Parameter(question.parameter, Parameter.KEYWORD_ONLY, default=None, annotation=annotation(question))
            for question in questions
        ]
        hints = get_type_hints(command, include_extras=True)
        parameters = [Parameter(_CONTEXT, Parameter.KEYWORD_ONLY, annotation=typer.Context)]
        for one in signature(command).parameters.values():
            known = one.replace(annotation=hints[one.name], kind=Parameter.KEYWORD_ONLY)
            parameters += options if one.name == "said" else [known]
        dressed.__name__, dressed.__doc__, dressed.__module__ = command.__name__, command.__doc__, command.__module__
        dressed.__signature__ = Signature(parameters)  # type: ignore[attr-defined]
        dressed.__annotations__ = {one.name: one.annotation for one in parameters}
        return dressed

    return dress


def _by_default(context: object, questions: Sequence[Question]) -> frozenset[str]:
    """The questions that a file of defaults answers, of those that the command asks."""
    source = getattr(context, "get_parameter_source", None)
    if source is None:  # called as a plain function
        return frozenset()
    sources = {question.name: source(question.parameter) for question in questions}
    return frozenset(name for name, source in sources.items() if source is not None and source.name == "DEFAULT_MAP")
