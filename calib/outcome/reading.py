"""Files that people hand in, read so that nothing in them can do harm: bounded in size, depth and length of numbers.

What is wrong with them comes as the errors that readers of such files expect anyway.
"""

from __future__ import annotations

import json
import stat
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from calib.outcome.errors import InputError
from calib.outcome.files import why_unread
from calib.outcome.plain_faults import first_fault
from calib.outcome.toml_lines import line_said
from calib.words.said import joined, said

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

Model = TypeVar("Model", bound="BaseModel")

LARGEST_BYTES = 50_000_000


def text_of(path: Path, most_bytes: int = LARGEST_BYTES) -> str:
    """The text of a regular file, without the mark that some editors put before it; OSError where it cannot be read or is
    larger, UnicodeDecodeError where it is no text."""
    try:
        mode = path.stat().st_mode
    except ValueError as error:  # a null sign in the path
        raise OSError(said("there can be no such file")) from error
    if not stat.S_ISREG(mode):  # a pipe would be waited for, a device has no end
        raise OSError(said("it is a folder") if stat.S_ISDIR(mode) else said("it is no regular file"))
    with path.open("rb") as stream:
        raw = stream.read(most_bytes + 1)
    if len(raw) > most_bytes:
        raise OSError(said("it is larger than {mb:g} MB", mb=most_bytes / 1e6))
    return raw.decode("utf-8-sig")


class TomlBoundsError(tomllib.TOMLDecodeError):
    """What is no fault at one place of the text: said as it is, without a line. (Python 3.14's own wants the place.)"""

    def __init__(self, why: str) -> None:
        ValueError.__init__(self, why)


def toml_of(text: str) -> dict[str, Any]:
    """As `tomllib.loads`; what that stumbles over (depth, numbers without end) is a TOMLDecodeError too."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError:
        raise TomlBoundsError(said("it is nested too deeply")) from None
    except ValueError:
        raise TomlBoundsError(said("a number in it has too many digits")) from None


def json_of(text: str) -> Any:
    """As `json.loads`, in the same way: a JSONDecodeError."""
    try:
        return json.loads(text)
    except json.JSONDecodeError:
        raise
    except RecursionError:
        raise json.JSONDecodeError(said("It is nested too deeply"), "", 0) from None
    except ValueError:
        raise json.JSONDecodeError(said("A number in it has too many digits"), "", 0) from None


def read_model(
    model: type[Model],
    path: Path,
    *,
    what: str,
    no: Callable[[Path], str] | None = None,
    form: str,
    expected: str,
    remedy: str,
    most_bytes: int = LARGEST_BYTES,
    toml: bool = False,
) -> Model:
    """A file of JSON (or TOML) as the model that it holds; InputError says what is wrong, in which field and line.

    what: the file's kind, in "Cannot open the bay file X"; form: what such a file is. no: the file "... is no camera
    profile" where that is what a wrong field means; expected, remedy: of a file whose fields do not fit.
    """
    text = read_text(path, what=what, form=form, most_bytes=most_bytes)
    label = str(path) if no is None else no(path)
    if toml:
        values = read_toml(text, str(path), expected=expected)
        return fitted(model, values, label, expected=expected, remedy=remedy, text=text)
    return fitted(model, text, label, expected=expected, remedy=remedy)


def read_text(
    path: Path, *, what: str, form: str, remedy: str = said("check the path"), most_bytes: int = LARGEST_BYTES
) -> str:
    """The text of a file that a person names, as `text_of`; InputError where it cannot be read."""
    try:
        return text_of(path, most_bytes)
    except (OSError, UnicodeDecodeError) as error:
        why = why_unread(error)
        raise InputError(
            said("Cannot open {what} {path}: {why}.", what=what, path=path, why=why), expected=form, remedy=remedy
        ) from error


def read_toml(text: str, label: str, *, expected: str, remedy: str = said("mend that line")) -> dict[str, Any]:
    """As `toml_of`; InputError with the line and column. label: what the sentence begins with, the file."""
    try:
        return toml_of(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            said("{label} is no TOML: {error}.", label=label, error=error), expected=expected, remedy=remedy
        ) from error


def fitted(
    model: type[Model],
    values: Any,
    label: str,
    *,
    expected: str,
    remedy: str,
    text: str = "",
    all_faults: Callable[[ValidationError, str], str] | None = None,
) -> Model:
    """Values, or text of JSON, as the model; InputError says the first wrong field, with its line where text is TOML.

    all_faults: for files whose every fault is told at once: of the error and the text, the sentence after the label.
    """
    from pydantic import ValidationError

    try:
        return model.model_validate_json(values) if isinstance(values, str) else model.model_validate(values)
    except ValidationError as error:
        if all_faults is not None:
            what = joined([label, all_faults(error, text)], " ")
        else:
            line = line_said(text, error.errors()[0]["loc"])
            where = joined([line, first_fault(error)]) if line else first_fault(error)
            what = said("{file}: {what}.", file=label, what=where)
        raise InputError(what, expected=expected, remedy=remedy) from error
