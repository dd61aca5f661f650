"""Whether the page is well: for a proxy, a container, or whatever watches it."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

LEAST_FREE_BYTES = 500_000_000  # a few uploads of three photographs


def health_route(folder: Path, waiting: Callable[[], int], database: Path | None = None) -> Route:
    """`/health`: 200 where photographs can be kept and measured, else 503; nothing is told that is not everybody's.

    folder: where uploads are kept. waiting: how many measurements wait. database: a store's.
    """

    async def health(request: Request) -> Response:
        why = await run_in_threadpool(_unwell, folder, database)
        said = {
            "status": "ok" if why is None else "unwell",
            "waiting": waiting(),
            **({} if why is None else {"why": why}),
        }
        return JSONResponse(said, 200 if why is None else 503)

    return Route("/health", health)


def _unwell(folder: Path, database: Path | None) -> str | None:
    if not os.access(folder, os.W_OK):
        return "uploads cannot be kept"
    if database is not None and not (database.is_file() and database.stat().st_size):
        return "the store cannot be read"
    free = getattr(os, "statvfs", None)
    if free is not None:
        of_it = free(folder)
        if of_it.f_bavail * of_it.f_frsize < LEAST_FREE_BYTES:
            return "the disk is nearly full"
    return None
