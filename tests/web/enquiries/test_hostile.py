"""Whoever has no link finds nothing, whoever has one finds nothing but one case, and nobody can make the page do more."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from photomeasure.web.enquiries.links import new_secret
from photomeasure.web.guards import BOARD_BYTES, PIECE_BYTES
from tests.web.enquiries.door import in_pieces, made, opened, press, sample, text_of
from tests.web.sending import BASE, TOKEN, url

OCTETS = {"content-type": "application/octet-stream"}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with opened(tmp_path / "kept") as page:
        yield page


def begun(client: TestClient, link: str, size: int) -> str:
    return str(client.post(f"{link}arriving", data={"mark": "m", "name": "x.jpg", "bytes": str(size)}).json()["key"])


def test_guessed_links_are_all_the_same_nothing_and_end_in_a_wait(client: TestClient) -> None:
    _, link = made(client)
    answers = [client.get(f"/send/{new_secret()}/") for _ in range(20)]
    assert {answer.status_code for answer in answers} == {404} and len({answer.text for answer in answers}) == 1
    assert TOKEN not in answers[0].text
    assert "as it was sent to you" in answers[0].text  # whoever has a link knows of no program
    near = [link[:-2] + sign + "/" for sign in "abc" if link[-2] != sign]
    assert {client.get(address).text for address in near} == {answers[0].text}
    for address in (
        "/send/",
        "/send//",
        "/send/%00/",
        "/send/" + "a" * 5000 + "/",
        "/send/..%2f..%2fetc/",
        link.upper(),
    ):
        assert client.get(address).status_code in (404, 429)
    assert 429 in {client.get(f"/send/{new_secret()}/").status_code for _ in range(30)}
    assert client.get(link).status_code == 429  # or it could be told which of them was right


def test_a_link_opens_one_case_and_neither_another_nor_the_dealers_pages(client: TestClient) -> None:
    place, link = made(client)
    _, other = made(client, rig="Ferncombe 8", customer="Bea")
    number = in_pieces(client, other, sample("chat.jpg"))
    for address in (f"photograph-{number}", f"photograph-{number}.jpg", "arriving/unknown"):
        assert client.get(link + address).status_code == 404
    assert press(client, f"{link}photograph-{number}").status_code == 404
    assert client.get(f"{other}photograph-{number}").status_code == 200
    key = place.rstrip("/").rpartition("/")[2]
    inside = ("cases/", f"cases/{key}/", f"cases/{key}/export.zip", "rig/x/", "measure", "static/../../app.py", "../")
    for address in (*(link + one for one in inside), f"/cases/{key}/", f"/send/{key}/", f"/{TOKEN[:-1]}x/cases/{key}/"):
        answer = client.get(address)
        assert answer.status_code in (404, 429), address
        assert "Ferncombe 8" not in answer.text and TOKEN not in answer.text
    page = client.get(link).text
    assert key not in page and TOKEN not in page and "Ferncombe 8" not in page


def test_keys_of_cases_cannot_be_counted_through(client: TestClient) -> None:
    made(client)
    for key in ("1", "0", "a" * 12, "%27%20OR%201=1--", "../settings/../x", "' OR '1'='1"):
        for what in ("", "export.zip", "case.pdf", "delete", "photograph-1.jpg", "original-1"):
            assert client.get(url(f"cases/{key}/{what}")).status_code == 404


@pytest.mark.parametrize("headers", [{"origin": "https://evil.example"}, {"sec-fetch-site": "cross-site"}])
def test_forms_from_elsewhere_change_nothing(client: TestClient, headers: dict[str, str]) -> None:
    place, link = made(client)
    key = begun(client, link, 10)
    forms = (
        (url("cases/"), {"rig": "x", "customer": "y"}), (place + "delete", {"a": "b"}), (place + "withdraw", {"a": "b"}),
        (place + "ask", {"own": "x"}), (url("cases/settings"), {"name": "x"}), (link + "send", {"a": "b"}),
        (place + "message", {"text": "x"}), (link + "message", {"text": "x"}),
        (url("remembered/print"), {"number": "1", "bar_x": "150"}), (url("remembered/print/1/forget"), {"a": "b"}),
        (url("remembered/phone"), {"board": "sheet"}), (url("remembered/phone/x/forget"), {"a": "b"}),
        (link + "question/coupled", {"value": "no"}), (link + "arriving", {"mark": "n", "name": "x", "bytes": "5"}),
    )  # fmt: skip
    for address, data in forms:
        assert client.post(address, data=data, headers=headers).status_code == 403, address
    piece = client.post(f"{link}arriving/{key}?offset=0", content=b"0123456789", headers={**headers, **OCTETS})
    assert piece.status_code == 403 and client.get(place).status_code == 200 and client.get(link).status_code == 200


def test_pieces_that_do_not_fit_are_turned_away(client: TestClient) -> None:
    _, link = made(client)
    key = begun(client, link, 3_000_000)
    at = f"{link}arriving/{key}?offset="

    def sent(offset: str, content: object) -> int:
        return client.post(at + offset, content=content, headers=OCTETS).status_code  # type: ignore[arg-type]

    assert sent("0", b"x" * (PIECE_BYTES + 1)) == 413
    assert sent("0", (b"x" * 100_000 for _ in range(20))) == 413  # in chunks: it does not say its length before
    for wrong in ("-1", "1e3", "", "9" * 40, "\N{SUPERSCRIPT TWO}"):
        assert sent(wrong, b"x") == 400
    assert client.post(at + "5", content=b"x", headers=OCTETS).json() == {"offset": 0}
    small = begun(client, link.rstrip("/") + "/", 3_000_000)
    assert small == key  # the same file goes on
    for data in ({}, {"mark": "m", "bytes": "x"}, {"mark": "", "bytes": "5"}, {"mark": "m", "bytes": "9" * 30}):
        assert client.post(f"{link}arriving", data={"a": "b", **data}).status_code == 400
    assert client.post(f"{link}arriving", data={"mark": "m2", "name": "x", "bytes": "99999999999"}).status_code == 413
    assert client.post(f"{link}photographs", data={"photo": "text"}).status_code == 415


def test_what_was_typed_and_named_is_text_everywhere(client: TestClient) -> None:
    evil = "<img src=x onerror=alert(1)>\"'{{7*7}}"
    place, link = made(client, rig=evil, customer=evil, by=evil)
    in_pieces(client, link, b"<svg onload=alert(1)>" * 10, name="../../" + evil + ".jpg")
    press(client, link + "send")
    client.post(place + "ask", data={"own": evil})
    client.post(place + "message", data={"text": evil})
    client.post(link + "message", data={"text": evil})
    client.post(url("remembered/print"), data={"number": evil, "bar_x": evil})
    pages = [
        client.get(address)
        for address in (url("remembered/"), place, url("cases/"), link, link + "photographs", link + "?more")
    ]
    for page in pages:
        assert page.status_code == 200 and "<img src=x" not in page.text and "onload=alert" not in page.text
        assert "49" not in text_of(page).replace("2049", "") or "{{7*7}}" in text_of(page)
        assert "script-src 'self'" in page.headers["content-security-policy"]
    original = client.get(place + "original-1")
    assert (
        original.headers["content-type"] == "application/octet-stream"
        and original.headers["x-content-type-options"] == "nosniff"
    )
    assert original.headers["content-disposition"].startswith("attachment")
    with zipfile.ZipFile(io.BytesIO(client.get(place + "export.zip").content)) as taken:
        assert all(".." not in name and not name.startswith("/") for name in taken.namelist())
    answer = client.post(url("cases/"), data={"rig": "=cmd|' /C calc'!A0", "customer": "@x"})
    assert answer.status_code == 200
    rows = client.get(url("cases/list.csv")).text
    assert "\n=cmd" not in rows and "'=cmd" in rows and ",'@x" in rows
    for filters in (
        "text=%27%3B+DROP+TABLE+enquiries--",
        "state=nothing",
        "from=-5",
        "from=" + "9" * 50,
        "text=" + "x" * 5000,
    ):
        assert client.get(url(f"cases/?{filters}")).status_code == 200


def test_photographs_of_boards_end_somewhere(client: TestClient) -> None:
    """Too many, too large in all, and no form at all: told, and nothing is left lying."""
    place = url("remembered/phone")
    many = [("boards", (f"{n}.jpg", b"x", "image/jpeg")) for n in range(21)]
    assert client.post(place, files=many, data={"board": "sheet"}).status_code == 400
    assert client.post(place, files=[*many, *many], data={"board": "sheet"}).status_code == 400
    assert client.post(place, data={"board": "sheet"}).status_code == 415
    huge = {"content-type": "multipart/form-data; boundary=x", "content-length": str(BOARD_BYTES + 1)}
    assert client.post(place, content=b"", headers=huge).status_code == 413
    assert client.get(url("remembered/")).status_code == 200


def test_uploads_of_a_customer_end_somewhere(client: TestClient) -> None:
    _, link = made(client)
    for number in range(24):
        in_pieces(client, link, b"%d" % number, name=f"{number}")
    more = client.post(f"{link}arriving", data={"mark": "more", "name": "x", "bytes": "5"})
    assert more.status_code == 409 and "No more photographs" in more.text
    known = client.post(f"{link}arriving", data={"mark": "7/1", "name": "7", "bytes": "1"})
    assert "photograph" in known.json()  # one that is there


def test_many_who_begin_are_slowed_down(client: TestClient) -> None:
    """From an address that can be told from others, by the limits for uploads."""
    _, link = made(client)
    statuses = [
        client.post(f"{link}arriving", data={"mark": f"m{i}", "name": "x", "bytes": "5"}).status_code
        for i in range(140)
    ]
    assert statuses[0] == 200 and statuses[-1] == 429


def test_a_page_without_a_store_has_no_front_door(tmp_path: Path) -> None:
    from photomeasure.web.app import page_app
    from tests.web.sending import HOST

    with TestClient(page_app(TOKEN, [HOST]), base_url=BASE) as bare:
        assert bare.get(url("cases/")).status_code == 404 and "Cases" not in bare.get(url()).text
        assert bare.get(f"/send/{new_secret()}/").status_code == 404
