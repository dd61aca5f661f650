"""The program's own files: style sheets, scripts, pictures."""

from __future__ import annotations

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope


class Static(StaticFiles):
    """Files that do not change as long as their address, which has a secret in it that others may not keep."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        response.headers["cache-control"] = "private, max-age=86400"
        return response
