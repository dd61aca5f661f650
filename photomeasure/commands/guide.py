"""`photomeasure guide [NAME]`: the guides, laid out on a terminal, as they are into a file or a pipe."""

from __future__ import annotations

from importlib.resources import files

from calib.outcome.errors import InputError

# in the order in which they are read
GUIDES = ("measuring", "rules", "many-rigs", "planning", "cameras", "records")


def guide_text(name: str) -> str:
    """A guide in Markdown. Raises InputError for one that there is not."""
    if name not in GUIDES:
        raise InputError(
            f"There is no guide {name!r}.", expected=", ".join(GUIDES), remedy="photomeasure guide lists them"
        )
    return files("photomeasure.guides").joinpath(f"{name}.md").read_text(encoding="utf-8")


def title_and_about(name: str) -> tuple[str, str]:
    """A guide's heading and its first sentence."""
    lines = [line for line in guide_text(name).splitlines() if line.strip()]
    return lines[0].removeprefix("# "), lines[1].replace("**", "")


def run(name: str | None) -> int:
    """Print one guide, or which there are; returns exit code 0. Raises InputError."""
    from rich.console import Console

    console = Console(highlight=False)
    if name is None:
        for known in GUIDES:
            title, about = title_and_about(known)
            print(f"photomeasure guide {known:<10} {title}. {about}")
        return 0
    text = guide_text(name.lower())
    if console.is_terminal:
        from rich.markdown import Markdown

        console.width = min(console.width, 96)
        console.print(Markdown(text))
    else:
        print(text, end="")
    return 0
