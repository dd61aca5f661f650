"""A page with a front door, and a dealer and a customer who use it as their browsers do."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from httpx2 import Response
from starlette.testclient import TestClient

from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.store import Store
from tests.web.sending import BASE, HOST, SAMPLES, TOKEN, url

ABOUT = {"rig": "Ferncombe 7", "customer": "Ada", "coupling": "ball-50", "by": "Bo"}


@contextmanager
def opened(folder: Path, **more: object) -> Iterator[TestClient]:
    """From start to stop."""
    app = page_app(TOKEN, [HOST], cases=Cases(store=Store(folder)), **more)  # type: ignore[arg-type]
    with TestClient(app, base_url=BASE) as client:
        yield client


def made(client: TestClient, **about: str) -> tuple[str, str]:
    """The dealer's address of a new case, and the customer's link."""
    answer = client.post(url("cases/"), data={**ABOUT, **about})
    assert answer.status_code == 200, answer.text
    return str(answer.url).removeprefix(BASE), link_in(answer)


def link_in(answer: Response) -> str:
    return link_in_page(answer.text)


def link_in_page(page: str) -> str:
    found = re.search(r'href="https?://[^/"]+(/send/[a-z2-9]{26}/)"', page)
    assert found is not None
    return found[1]


def answered(client: TestClient, link: str) -> None:
    for name, value in (("coupled", "no"), ("laden", "no"), ("level_ground", "yes")):
        assert client.post(f"{link}question/{name}", data={"value": value}).status_code == 200
    assert client.post(f"{link}question/bars", data={"bar_x": "150", "bar_y": "150"}).status_code == 200


def in_pieces(client: TestClient, link: str, data: bytes, name: str = "IMG.jpg", piece: int = 500_000) -> int:
    """A photograph as the script sends it; returns its number."""
    now = client.post(
        f"{link}arriving", data={"mark": f"{name}/{len(data)}", "name": name, "bytes": str(len(data))}
    ).json()
    key = now.get("key")
    while "photograph" not in now:
        at = now["offset"]
        body = data[at : at + piece]
        now = client.post(
            f"{link}arriving/{key}?offset={at}", content=body, headers={"content-type": "application/octet-stream"}
        ).json()
    return int(now["photograph"])


def sample(name: str) -> bytes:
    return (SAMPLES / name).read_bytes()


def text_of(answer: Response) -> str:
    """What is read on a page."""
    body = re.sub(r"<(style|script).*?</\1>", " ", answer.text, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


def press(client: TestClient, address: str) -> Response:
    """A form with nothing in it but its button."""
    return client.post(address, data={"pressed": "yes"})
