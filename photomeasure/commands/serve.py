"""`photomeasure serve`: the page for a phone or a desk."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

from calib.outcome.errors import InputError

# package to install, and the name under which it is imported
_NEEDED = {
    "starlette": "starlette",
    "uvicorn": "uvicorn",
    "python-multipart": "python_multipart",
    "Jinja2": "jinja2",
    "markdown-it-py": "markdown_it",
    "alembic": "alembic",
    "segno": "segno",
}


def run(host: str, port: int, public_url: str | None = None, store: Path | None = None) -> int:
    """Serve the page until it is stopped."""
    missing = [package for package, name in _NEEDED.items() if find_spec(name) is None]
    if missing:
        raise InputError(
            f"The page needs packages that are not installed: {', '.join(missing)}.",
            expected="photomeasure with its extra for the page",
            remedy='pip install "photomeasure[web]", or in a copy of the sources: pip install ".[web]"',
        )
    from photomeasure.web.server import serve

    return serve(host, port, public_url, store)
