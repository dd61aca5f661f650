"""What the page lets through: its own address, its own forms, and not more than it can hold."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases, shown_name
from photomeasure.web.guards import FORM_BYTES
from tests.web.sending import BASE, HOST, SAMPLES, TOKEN, here, photo, record, send, url

CHAT = (SAMPLES / "chat.jpg").read_bytes()


def test_only_under_the_token(client: TestClient) -> None:
    assert client.get(url()).status_code == 200
    for path in (
        "/",
        "/measure",
        f"/{TOKEN[:-1]}/",
        f"/{TOKEN}x/",
        "/static/page.css",
        f"//{TOKEN}/",
        f"/{TOKEN}/rig/nobody/",
    ):
        answer = client.get(path)
        assert answer.status_code == 404 and "Next" in answer.text


def test_whoever_does_not_know_the_token_is_not_told_it(client: TestClient) -> None:
    """Nor where the page's own name is not known: a name that was made to point here must not read it."""
    asked = [("GET", "/", HOST), ("POST", "/measure", HOST), ("HEAD", "/x/", HOST), ("PUT", "/static/page.css", HOST)]
    asked += [("GET", url(), "evil.example"), ("POST", url("measure"), "evil.example")]
    for method, path, host in asked:
        answer = client.request(method, path, headers={"host": host})
        assert answer.status_code in (400, 404) and "default-src 'none'" in answer.headers["content-security-policy"]
        told = answer.text + str(answer.headers)
        assert not any(part in told for part in (TOKEN, *TOKEN.split("-")))


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "127.0.0.1.evil.example",
        "",
        ":80",
        "evil.example:80",
        "[127.0.0.1]",
        f"{HOST}@evil.example",
        f"{HOST}:80:evil",
    ],
)
def test_only_by_its_own_name(client: TestClient, host: str) -> None:
    """Against names that are made to point here (DNS rebinding)."""
    answer = client.get(url(), headers={"host": host})
    assert answer.status_code == 400
    assert "does not answer to the name" in answer.text and "Expected" in answer.text and "Next" in answer.text
    assert client.get(url(), headers={"host": f"{HOST}:8765"}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"https://{HOST}"},
        {"origin": f"{BASE}:81"},
        {"sec-fetch-site": "same-origin", "origin": "http://evil.example"},
    ],
)
def test_forms_of_other_pages_are_turned_away(client: TestClient, cases: Cases, headers: dict[str, str]) -> None:
    answer = send(client, photo("chat.jpg"), headers=headers)
    assert answer.status_code == 403 and len(cases) == 0


def test_its_own_form_is_let_through(client: TestClient) -> None:
    headers = {"sec-fetch-site": "same-origin", "origin": BASE}
    assert send(client, photo("chat.jpg"), headers=headers).status_code == 200


def test_headers_that_keep_a_browser_in_bounds(client: TestClient) -> None:
    for path, status in ((url(), 200), (url("static/mark.js"), 200), (url("look.css"), 200), ("/nothing", 404)):
        answer = client.get(path)
        policy = answer.headers["content-security-policy"]
        assert answer.status_code == status and "default-src 'none'" in policy and "unsafe" not in policy
        assert (
            answer.headers["x-content-type-options"] == "nosniff"
            and "access-control-allow-origin" not in answer.headers
        )
    assert client.get(url()).headers["cache-control"] == "no-store"


def test_no_page_has_script_or_style_in_it_or_anything_from_elsewhere(client: TestClient) -> None:
    shown = send(client, photo("chat.jpg"))
    for page in (client.get(url()).text, shown.text, client.get(here(shown) + "mark").text):
        assert "<style" not in page and "style=" not in page and "onclick" not in page and "javascript:" not in page
        assert "<script>" not in page and "//" not in page.replace("http://www.w3.org", "")


@pytest.fixture
def small(tmp_path: Path) -> Iterator[TestClient]:
    """A page that takes 200 kB."""
    with TestClient(page_app(TOKEN, [HOST], upload_bytes=200_000), base_url=BASE) as opened:
        yield opened


def test_too_large_by_its_stated_length(small: TestClient) -> None:
    answer = send(small, ("photos", ("large.jpg", b"x" * 250_000, "image/jpeg")))
    assert answer.status_code == 413 and "larger than" in answer.text and "fewer photographs" in answer.text
    assert send(small, photo("chat.jpg")).status_code == 200


def test_too_large_in_chunks_that_state_no_length(small: TestClient) -> None:
    sent = 0

    def chunks() -> Iterator[bytes]:
        nonlocal sent
        yield b'--line\r\nContent-Disposition: form-data; name="photos"; filename="a.jpg"\r\n\r\n'
        for _ in range(40):
            sent += 10_000
            yield b"x" * 10_000
        yield b"\r\n--line--\r\n"

    headers = {"content-type": "multipart/form-data; boundary=line"}
    answer = small.post(url("measure"), content=chunks(), headers=headers)
    assert answer.status_code == 413 and "larger than" in answer.text


def test_other_forms_are_small(client: TestClient) -> None:
    shown = send(client, photo("chat.jpg"))
    answer = client.post(here(shown) + "tape", data={"tape": "4" * (FORM_BYTES + 1)})
    assert answer.status_code == 413 and "larger than 100 kB" in answer.text  # and not "0 MB"
    many = client.post(here(shown) + "tape", data={f"field{i}": "x" for i in range(60)})
    assert many.status_code == 400 and "Traceback" not in many.text


@pytest.mark.parametrize(
    "kind", ["application/json", "text/plain", "multipart/form-data", "application/x-www-form-urlencoded"]
)
def test_a_body_of_another_kind(client: TestClient, kind: str) -> None:
    answer = client.post(url("measure"), content=b'{"a": 1}', headers={"content-type": kind})
    assert answer.status_code in (400, 415) and "Next" in answer.text


def test_no_photograph_and_too_many(client: TestClient, cases: Cases) -> None:
    four = send(client, *[("photos", (f"{i}.jpg", CHAT, "image/jpeg")) for i in range(4)])
    assert four.status_code == 400 and "More than 3 photographs" in four.text
    many = send(client, *[("photos", (f"{i}.jpg", b"x", "image/jpeg")) for i in range(9)])
    assert many.status_code == 400 and "Next" in many.text
    none = send(client, ("photos", ("", b"", "application/octet-stream")))
    assert none.status_code == 400 and "No photograph was chosen" in none.text
    assert len(cases) == 0


def test_files_that_are_no_photographs_are_refused_by_their_own_name(client: TestClient) -> None:
    text = send(client, ("photos", ("notes.txt", b"not a picture\n" * 100, "text/plain")))
    assert (
        text.status_code == 200
        and "Cannot measure" in text.text
        and "notes.txt cannot be read as a photograph" in text.text
    )
    assert "upload-1" not in text.text
    assert "notes.txt" in client.get(here(text) + "mark").text  # says why it cannot be shown
    cut = send(client, ("photos", ("cut.jpg", CHAT[: len(CHAT) // 2], "image/jpeg")))
    assert "cut.jpg is cut short or damaged" in cut.text and record(client, cut)["refusal"]["code"] == "truncated"


def test_a_name_is_never_a_path(client: TestClient, cases: Cases) -> None:
    name = "../../../tmp/evil\x07<b>.jpg"
    shown = send(client, ("photos", (name, CHAT, "image/jpeg")))
    assert record(client, shown)["photos"][0]["file"].endswith(">.jpg")
    assert "<b>" not in shown.text and "&lt;b&gt;" in shown.text
    assert {path.name for path in cases.root.rglob("*") if path.is_file()} >= {"upload-1"}
    assert not any("evil" in str(path) for path in cases.root.rglob("*"))
    assert shown_name("C:\\photos\\rig.HEIC", 1) == "rig.HEIC" and shown_name("/", 2) == "photograph-2"
    assert len(shown_name("x" * 500 + ".jpg", 1)) == 80 and shown_name("..", 1) == "photograph-1"


def test_the_last_rigs_are_kept_and_nothing_after_the_end(tmp_path: Path) -> None:
    cases = Cases(most=2)
    with TestClient(page_app(TOKEN, [HOST], cases=cases), base_url=BASE) as opened:
        places = [here(send(opened, ("photos", (f"{i}.txt", b"%d" % i, "text/plain")))) for i in range(3)]
        assert [opened.get(place).status_code for place in places] == [404, 200, 200]
        assert len(list(cases.root.iterdir())) == 2
    assert not cases.root.exists()
