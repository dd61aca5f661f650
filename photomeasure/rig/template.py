"""A setup to begin with: every field with its meaning, and heights from records where there are some."""

from __future__ import annotations

import json
import os
import re
from importlib.resources import files
from pathlib import Path
from typing import Any

from calib.outcome.errors import InputError
from calib.outcome.files import why_unread
from calib.outcome.reading import json_of, text_of
from calib.words.said import said

_FIGURE = {"vehicle": "ball_height", "trailer": "level_coupling_height"}
_MARK = {"vehicle": "@BALL", "trailer": "@TRAILER"}


def template(folder: Path, *, vehicle: Path | None = None, trailer: Path | None = None) -> str:
    """Return the text of a setup file that lies in `folder`. vehicle, trailer: records of the ball and of the coupling of
    the level trailer.

    Raises InputError for a record that cannot be used.
    """
    text = (files(__package__) / "template.toml").read_text(encoding="utf-8")
    for section, record in (("vehicle", vehicle), ("trailer", trailer)):
        if record is not None:
            text = _with_record(text, section, record, folder)
    return re.sub(r" +@[A-Z]+$", "", text, flags=re.MULTILINE)


def _with_record(text: str, section: str, record: Path, folder: Path) -> str:
    kept = _read(record)
    name = _FIGURE[section]
    path = json.dumps(Path(os.path.relpath(record, folder)).as_posix(), ensure_ascii=False)
    height = (
        f"{name} = {{ record = {path} }}   # {kept['height_mm']:.1f} mm, u {kept['u_mm']:.1f} mm, from a photograph"
    )
    text = re.sub(rf"^{name} = .*{_MARK[section]}$", lambda _: height, text, flags=re.MULTILINE)
    text = re.sub(rf"^# {name} = \{{ record.*\n", "", text, flags=re.MULTILINE)
    return _with_state(text, kept) if section == "vehicle" else text


def _with_state(text: str, kept: dict[str, Any]) -> str:
    """The state as the record has it; where it does not say, a note to check."""
    state = kept.get("state") or {}
    for name in ("coupled", "laden"):
        known, mark = state.get(name), f"@{name.upper()}"
        if isinstance(known, bool):
            text = re.sub(
                rf"^{name} = \w+ +#.*{mark}$", f"{name} = {str(known).lower()}   # as the record says", text, flags=re.M
            )
        else:
            text = text.replace(f" {mark}", " CHECK THIS: the record does not say")
    control = state.get("level_control")
    if isinstance(control, bool):
        text = re.sub(r"^# level_control = true +#", f"level_control = {str(control).lower()}   #", text, flags=re.M)
    return text


def _read(path: Path) -> dict[str, Any]:
    try:
        kept = json_of(text_of(path))
    except (OSError, ValueError) as error:
        why = why_unread(error) if isinstance(error, OSError) else said("it is no JSON")
        raise InputError(
            said("Cannot use the record {path}: {why}.", path=path, why=why),
            expected=said("a record written by photomeasure measure"),
            remedy=said("check the path"),
        ) from error
    figures = [kept.get(name) if isinstance(kept, dict) else None for name in ("height_mm", "u_mm")]
    if not all(isinstance(figure, int | float) and not isinstance(figure, bool) for figure in figures):
        raise InputError(
            said("The record {path} holds no height.", path=path),
            expected=said("a record of a measurement that was made"),
            remedy=said("name another record, or photograph again as its remedy says"),
        )
    return dict(kept)
