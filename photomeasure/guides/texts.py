"""The guides' texts by name, in the order in which they are read."""

from __future__ import annotations

from importlib.resources import files

from calib.outcome.errors import InputError
from calib.words.said import said

GUIDES = ("measuring", "rules", "many-rigs", "customers", "planning", "level", "cameras", "records")


def guide_text(name: str) -> str:
    """A guide in Markdown. Raises InputError for one that there is not."""
    if name not in GUIDES:
        raise InputError(
            said("There is no guide {name}.", name=repr(name)),
            expected=", ".join(GUIDES),
            remedy=said("photomeasure guide lists them"),
        )
    return files("photomeasure.guides").joinpath(f"{name}.md").read_text(encoding="utf-8")


def title_and_about(name: str) -> tuple[str, str]:
    """A guide's heading and its first sentence."""
    lines = [line for line in guide_text(name).splitlines() if line.strip()]
    return lines[0].removeprefix("# "), lines[1].replace("**", "")
