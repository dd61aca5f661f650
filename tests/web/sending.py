"""What a browser sends to the page."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

from httpx2 import Response
from starlette.testclient import TestClient

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
TOKEN, HOST = "abcd-efgh-2345", "127.0.0.1"
BASE = f"http://{HOST}"
AS_PHOTOGRAPHED: dict[str, Any] = {
    "coupled": "no",
    "laden": "no",
    "level_ground": "yes",
    "bar_x": "150",
    "bar_y": "150",
}


def url(path: str = "") -> str:
    return f"/{TOKEN}/{path}"


def photo(name: str) -> tuple[str, tuple[str, bytes, str]]:
    return "photos", (name, (SAMPLES / name).read_bytes(), "image/jpeg")


def send(client: TestClient, *photos: Any, headers: dict[str, str] | None = None, **answers: str) -> Response:
    """The first page's form, sent; the answer is the page that the redirect leads to."""
    data = {"coupling": "ball-50", **answers}
    return client.post(url("measure"), files=list(photos), data=data, headers=headers)


def here(response: Response) -> str:
    """The rig's own address."""
    found = re.match(rf"{BASE}(/{TOKEN}/rig/[\w-]+/)", str(response.url))
    assert found is not None, response.url
    return found[1]


def record(client: TestClient, response: Response) -> dict[str, Any]:
    answer = client.get(here(response) + "record.json")
    assert answer.status_code == 200
    read: dict[str, Any] = json.loads(answer.content)
    return read
