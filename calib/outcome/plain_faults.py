"""What is wrong with a field of a file, in plain words in place of the validator's."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from calib.words.said import joined, said, said_many

if TYPE_CHECKING:
    from pydantic import ValidationError

BOUNDS = {
    "greater_than": ("gt", said("must be more than")),
    "greater_than_equal": ("ge", said("must be at least")),
    "less_than": ("lt", said("must be less than")),
    "less_than_equal": ("le", said("must be at most")),
}
_PLAIN = {
    "missing": said("is missing"),
    "extra_forbidden": said("is no known key"),
    "float_type": said("must be a number, without quotes"),
    "float_parsing": said("must be a number, without quotes"),
    "int_type": said("must be a whole number, without quotes"),
    "int_parsing": said("must be a whole number, without quotes"),
    "int_from_float": said("must be a whole number"),
    "model_type": said("must be a table of keys"),
    "dict_type": said("must be a table of keys"),
    "finite_number": said("must be a finite number"),
    "bool_type": said("must be true or false, without quotes"),
    "bool_parsing": said("must be true or false, without quotes"),
    "string_type": said("must be a text in quotes"),
    "list_type": said("must be a list in square brackets"),
    "tuple_type": said("must be a list in square brackets"),
}


def in_words(fault: Mapping[str, Any]) -> str:
    """One of pydantic's faults as the end of a sentence whose subject is the field; what is not known here in its words."""
    kind, context = str(fault["type"]), fault.get("ctx", {})
    if kind in BOUNDS:
        key, words = BOUNDS[kind]
        return said("{bound} {limit:g}", bound=words, limit=context[key])
    if kind == "string_too_short":
        return said_many(
            "must have at least {count} character", "must have at least {count} characters", count=context["min_length"]
        )
    if kind == "string_too_long":
        return said_many(
            "must have at most {count} character", "must have at most {count} characters", count=context["max_length"]
        )
    if kind == "literal_error":
        return said("must be {expected}", expected=context["expected"])
    if kind == "value_error":
        reasons = getattr(context["error"], "args", ())
        return reasons[0] if reasons and isinstance(reasons[0], str) else str(context["error"])
    message = str(fault["msg"])
    return _PLAIN.get(kind, message[:1].lower() + message[1:])


def first_fault(error: ValidationError, whole: str = said("the file")) -> str:
    """Where the first wrong field is and what is wrong with it: "markers.0.id: must be a whole number, without quotes"."""
    first = error.errors()[0]
    return joined([".".join(str(part) for part in first["loc"]) or whole, in_words(first)], ": ")
