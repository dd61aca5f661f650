"""What is wrong with a field of a file, in plain words in place of the validator's."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pydantic import ValidationError

BOUNDS = {
    "greater_than": ("gt", "must be more than"),
    "greater_than_equal": ("ge", "must be at least"),
    "less_than": ("lt", "must be less than"),
    "less_than_equal": ("le", "must be at most"),
}
_PLAIN = {
    "missing": "is missing",
    "extra_forbidden": "is no known key",
    "float_type": "must be a number, without quotes",
    "float_parsing": "must be a number, without quotes",
    "int_type": "must be a whole number, without quotes",
    "int_parsing": "must be a whole number, without quotes",
    "int_from_float": "must be a whole number",
    "model_type": "must be a table of keys",
    "dict_type": "must be a table of keys",
    "finite_number": "must be a finite number",
    "bool_type": "must be true or false, without quotes",
    "bool_parsing": "must be true or false, without quotes",
    "string_type": "must be a text in quotes",
    "list_type": "must be a list in square brackets",
    "tuple_type": "must be a list in square brackets",
}


def in_words(fault: Mapping[str, Any]) -> str:
    """One of pydantic's faults as the end of a sentence whose subject is the field; what is not known here in its words."""
    kind, context = str(fault["type"]), fault.get("ctx", {})
    if kind in BOUNDS:
        key, words = BOUNDS[kind]
        return f"{words} {context[key]:g}"
    if kind in ("string_too_short", "string_too_long"):
        key, words = ("min_length", "at least") if kind == "string_too_short" else ("max_length", "at most")
        return f"must have {words} {context[key]} character{'' if context[key] == 1 else 's'}"
    if kind == "literal_error":
        return f"must be {context['expected']}"
    if kind == "value_error":
        return str(context["error"])
    message = str(fault["msg"])
    return _PLAIN.get(kind, message[:1].lower() + message[1:])


def first_fault(error: ValidationError, whole: str = "the file") -> str:
    """Where the first wrong field is and what is wrong with it: "markers.0.id: must be a whole number, without quotes"."""
    first = error.errors()[0]
    return f"{'.'.join(str(part) for part in first['loc']) or whole}: {in_words(first)}"
