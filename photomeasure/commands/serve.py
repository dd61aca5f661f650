"""`photomeasure serve`: the page for a phone or a desk."""

from __future__ import annotations

import sys
from collections.abc import Callable
from getpass import getpass
from importlib.util import find_spec
from pathlib import Path

from calib.outcome.errors import InputError
from calib.words.said import said, say
from photomeasure.web.served import Served

# package to install, and the name under which it is imported
_NEEDED = {
    "starlette": "starlette",
    "uvicorn": "uvicorn",
    "python-multipart": "python_multipart",
    "Jinja2": "jinja2",
    "markdown-it-py": "markdown_it",
    "alembic": "alembic",
    "segno": "segno",
    "argon2-cffi": "argon2",
}


def run(served: Served) -> int:
    """Serve the page until it is stopped."""
    _need()
    from photomeasure.web.server import serve

    return serve(served)


def set_new_password(store: Path | None) -> int:
    """Ask for the password of a store's pages, twice on a terminal, and keep it; from a pipe its first line is taken."""
    _need()
    if store is None:
        raise InputError(
            said("It is not said for which page the password is."),
            expected=said("the folder that the page keeps its cases in"),
            remedy=said("give --store with it; a page that keeps nothing is as secret as its address"),
        )
    from photomeasure.web.entry.password import fit, set_password
    from photomeasure.web.store import Store

    if not (store / "store.sqlite").exists():  # of a page that has never run; one that runs holds its own
        Store(store).close()
    typed = _typed_twice(fit) if sys.stdin.isatty() else sys.stdin.readline().rstrip("\r\n")
    set_password(store, typed)
    print(say("The password is kept. Whoever was signed in has to sign in anew."))
    return 0


def _typed_twice(fit: Callable[[str], str]) -> str:
    first = fit(getpass(say("The new password: ")))
    if getpass(say("The same once more: ")) != first:
        raise InputError(
            said("The two were not the same."),
            expected=said("the same password twice"),
            remedy=said("start again; nothing was changed"),
        )
    return first


def _need() -> None:
    missing = [package for package, name in _NEEDED.items() if find_spec(name) is None]
    if missing:
        raise InputError(
            said("The page needs packages that are not installed: {listed}.", listed=", ".join(missing)),
            expected=said("photomeasure with its extra for the page"),
            remedy=said('pip install "photomeasure[web]", or in a copy of the sources: pip install ".[web]"'),
        )
