"""`photomeasure guide [NAME]`: the guides, laid out on a terminal, as they are into a file or a pipe."""

from __future__ import annotations

from photomeasure.guides.texts import GUIDES, guide_text, title_and_about


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
