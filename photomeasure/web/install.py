"""The page as something that a phone keeps among its own: its name, its pictures, and a worker that keeps nothing of people."""

from __future__ import annotations

from pathlib import Path

from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

_STATIC = Path(__file__).parent / "static"


def install_routes(base: str) -> list[Route]:
    """base: the address under which the page stands; the worker's reach ends there."""

    async def manifest(request: Request) -> Response:
        icons = [
            {
                "src": f"{base}/static/icon-{size}.png",
                "sizes": f"{size}x{size}",
                "type": "image/png",
                "purpose": purpose,
            }
            for size in (192, 512)
            for purpose in ("any", "maskable")
        ]
        said = {
            "name": "photomeasure", "short_name": "photomeasure", "description": "Height of a tow coupling's centre",
            "id": f"{base}/", "start_url": f"{base}/", "scope": f"{base}/", "display": "standalone", "lang": "en",
            "background_color": "#f1f3f5", "theme_color": "#056ba8", "icons": icons,
        }  # fmt: skip
        return JSONResponse(said, media_type="application/manifest+json")

    async def worker(request: Request) -> Response:
        return FileResponse(_STATIC / "worker.js", media_type="text/javascript", headers={"cache-control": "no-cache"})

    return [Route("/manifest.webmanifest", manifest), Route("/worker.js", worker)]
