"""Sentences in files (records, profiles): English text where it always stood, and beside it template and values of each.

The text is what the file says; by the rest (key `said`) a door tells it in another language. What does not give its own
text again is left out when it is read: nobody is told something else than what stands there.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    ValidatorFunctionWrapHandler,
    WrapValidator,
    model_serializer,
    model_validator,
)

from calib.words.said import Digits, Said

_DEEPEST = 4  # sentences within sentences


def _kept(value: Any, handler: ValidatorFunctionWrapHandler) -> Any:
    text = handler(value)
    return value if isinstance(value, Said) else text


Sentence = Annotated[str, WrapValidator(_kept)]
"""Text that may know its template and its values."""


class SaidPart(BaseModel):
    """One sentence of the record. id: its English template; many: that for any number but one; values: what stands in it,
    a sentence within it as its own `id` and `values`, a figure that was rounded for good as `digits`."""

    model_config = ConfigDict(extra="forbid", defer_build=True, allow_inf_nan=False, frozen=True)

    text: str
    id: str
    many: str | None = None
    values: dict[str, Any] = Field(default_factory=dict)


class Telling(BaseModel):
    """A model whose sentences keep what they were made from, in the file too."""

    model_config = ConfigDict(defer_build=True)  # it is never made by itself

    said: list[SaidPart] = Field(default_factory=list)

    @model_validator(mode="before")
    @classmethod
    def _revive(cls, written: Any) -> Any:
        """The sentences of a file as what they were when they were made."""
        rows = written.get("said") if isinstance(written, dict) else None
        known: dict[str, Said] = {made: made for row in rows or () if (made := _made(row)) is not None}
        return (
            written if not known else {key: _revived(value, known) for key, value in written.items() if key != "said"}
        )

    @model_serializer(mode="wrap")
    def _keep(self, handler: Any) -> dict[str, Any]:
        written: dict[str, Any] = handler(self)
        if written.pop("said", None) is not None:  # at the end: a file is known by its first key
            found: dict[Said, None] = {}
            _gather(self, found)
            written["said"] = [_written(sentence) for sentence in found]
        return written


def packed(text: str) -> dict[str, Any] | str:
    """A text as it can be kept in JSON: a sentence with its template and values, any other text as it is."""
    return _written(text) if isinstance(text, Said) else text


def unpacked(kept: Any) -> str:
    """What `packed` made; its plain text where it says another thing than that."""
    if not isinstance(kept, Mapping):
        return str(kept)
    made = _made(kept)
    return str(kept.get("text", "")) if made is None else made


def _gather(value: Any, found: dict[Said, None]) -> None:
    """Every sentence in it, each once, in the order of the fields."""
    if isinstance(value, Said):
        found[value] = None
    elif isinstance(value, BaseModel):
        for part in vars(value).values():
            _gather(part, found)
    elif isinstance(value, list | tuple):
        for part in value:
            _gather(part, found)


def _written(sentence: Said) -> dict[str, Any]:
    return {"text": str(sentence), **_inner(sentence)}


def _inner(sentence: Said) -> dict[str, Any]:
    values = {name: _value(value) for name, value in sentence.values.items()}
    many = {} if sentence.many is None else {"many": sentence.many}
    return {"id": sentence.template, **many, "values": values}


def _value(value: Any) -> Any:
    if isinstance(value, Said):
        return _inner(value)
    if isinstance(value, Digits):
        return {"digits": str(value)}
    return [_value(part) for part in value] if isinstance(value, tuple) else value


def _made(row: Any) -> Said | None:
    """The sentence of a row; None where the row is none, or says another thing than its text."""
    try:
        made = _sentence(row, 0)
    except (KeyError, TypeError, ValueError, AttributeError, IndexError):
        return None
    return made if made == row.get("text") else None


def _sentence(row: Mapping[str, Any], depth: int) -> Said:
    if depth > _DEEPEST:
        raise ValueError("sentences within sentences without end")
    values = {str(name): _read(value, depth) for name, value in row["values"].items()}
    return Said(str(row["id"]), values, None if row.get("many") is None else str(row["many"]))


def _read(value: Any, depth: int) -> Any:
    if isinstance(value, Mapping):
        return Digits(value["digits"]) if "digits" in value else _sentence(value, depth + 1)
    if isinstance(value, list):
        return tuple(_read(part, depth + 1) for part in value)
    if not isinstance(value, bool | int | float | str):
        raise TypeError("no value of a sentence")
    return value


def _revived(value: Any, known: Mapping[str, Said]) -> Any:
    if isinstance(value, str):
        return known.get(value, value)
    if isinstance(value, list):
        return [_revived(part, known) for part in value]
    return {key: _revived(part, known) for key, part in value.items()} if isinstance(value, dict) else value
