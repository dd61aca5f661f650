"""The way in: nothing is shown before, nothing can be sent by others after, and passwords cannot be tried out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from argon2 import PasswordHasher
from httpx2 import Response
from starlette.routing import Mount, Route
from starlette.testclient import TestClient

from photomeasure.web.app import page_app
from photomeasure.web.entry.password import Password
from tests.web.sending import AS_PHOTOGRAPHED, BASE, HOST, TOKEN, photo, send, url

WORDS = "four horses by the gate"
# cheap on purpose: how much a try costs is the library's own default, which is not what is tested here
PASSWORD = Password(hashed=PasswordHasher(time_cost=1, memory_cost=8, parallelism=1).hash(WORDS))
PUBLIC = "https://heights.example"
FAR = ("203.0.113.7", 4711)


@pytest.fixture
def app() -> Any:
    return page_app(TOKEN, [HOST, "heights.example"], password=PASSWORD, origins=[PUBLIC])


@pytest.fixture
def closed(app: Any) -> Iterator[TestClient]:
    with TestClient(app, base_url=BASE, client=FAR) as client:
        yield client


def word_in(page: str, name: str = "csrf") -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found is not None
    return found[1]


def sign_in(client: TestClient, password: str = WORDS, to: str = "", **more: Any) -> Response:
    client.cookies.clear()
    form = client.get("/sign-in", **more).text
    data = {"form": word_in(form, "form"), "to": to, "password": password}
    return client.post("/sign-in", data=data, follow_redirects=False, **more)


def test_nothing_is_shown_before(closed: TestClient) -> None:
    for path in ("", "rig/some/", "rig/some/record.json", "kit-a4.pdf", "guide/measuring"):
        answer = closed.get(url(path), follow_redirects=False)
        assert answer.status_code == 303 and answer.headers["location"] == f"/sign-in?to={url(path)}"
        assert closed.get(url(path), headers={"sec-fetch-mode": "cors"}).status_code == 401
    answer = send(closed, photo("chat.jpg"), **AS_PHOTOGRAPHED)
    assert answer.status_code == 401 and TOKEN not in answer.text
    assert closed.get("/").url.path == "/" and "Password" in closed.get("/").text
    assert closed.get(url("static/page.css")).status_code == 200  # the program's own, nobody's data
    for around in ("static/../rig/some/record.json", "static/%2e%2e/rig/some/", "static//../", "look.css/../rig/some/"):
        assert closed.get(url(around), follow_redirects=False).status_code in (303, 404)


def test_in_and_out_again(closed: TestClient) -> None:
    answer = sign_in(closed, to=url("guide/measuring"))
    assert answer.status_code == 303 and answer.headers["location"] == url("guide/measuring")
    cookie = next(text for text in answer.headers.get_list("set-cookie") if text.startswith("photomeasure-session="))
    assert "HttpOnly" in cookie and "SameSite=lax" in cookie and "Path=/" in cookie and "Domain" not in cookie
    start = closed.get(url())
    assert start.status_code == 200 and start.headers["cache-control"] == "no-store"
    kept = dict(closed.cookies)
    out = closed.post("/sign-out", data={"csrf": word_in(start.text)}, follow_redirects=False)
    assert out.status_code == 303 and "storage" in out.headers["clear-site-data"]
    assert closed.get(url(), follow_redirects=False).status_code == 303
    closed.cookies.update(kept)  # who kept the old cookie is out as well
    assert closed.get(url(), follow_redirects=False).status_code == 303


def test_by_https_the_cookie_is_for_https_only(closed: TestClient) -> None:
    public: dict[str, Any] = {"headers": {"host": "heights.example"}}
    answer = sign_in(closed, **public)
    # the client itself speaks http, and does not send it back: the form is refused, as it has to be
    assert answer.status_code == 403
    asked = closed.get("/sign-in", **public).headers
    assert asked["set-cookie"].startswith("__Host-photomeasure-form=") and "Secure" in asked["set-cookie"]
    assert "max-age" in asked["strict-transport-security"]


@pytest.mark.parametrize(
    "to",
    ["https://evil.example", "//evil.example", f"/{TOKEN}/..//evil.example", "/elsewhere", f"/{TOKEN}/\\evil", f"/{TOKEN}/\r\nx: y",
     "javascript:alert(1)", f"/{TOKEN}//evil.example", f"/{TOKEN}@evil.example/"],
)  # fmt: skip
def test_it_leads_nowhere_else(closed: TestClient, to: str) -> None:
    answer = sign_in(closed, to=to)
    assert answer.status_code == 303 and answer.headers["location"] == url()


def test_a_session_is_never_taken_over_from_before(closed: TestClient) -> None:
    closed.cookies.set("photomeasure-session", "chosen-by-somebody-else", domain="127.0.0.1")
    assert closed.get(url(), follow_redirects=False).status_code == 303
    form = closed.get("/sign-in").text
    closed.post("/sign-in", data={"form": word_in(form, "form"), "password": WORDS})
    assert closed.get(url()).status_code == 200
    assert "chosen-by-somebody-else" not in str(list(closed.cookies.jar))


def test_wrong_passwords_are_few_and_others_are_not_held_up(app: Any) -> None:
    with TestClient(app, base_url=BASE, client=FAR) as guessing:
        answers = [sign_in(guessing, f"guess number {i:04}") for i in range(6)]
        assert [answer.status_code for answer in answers] == [403] * 5 + [429]
        assert int(answers[-1].headers["retry-after"]) > 100
        assert "not the password" in answers[0].text and "guess number" not in answers[0].text
        assert sign_in(guessing).status_code == 429  # the right one, too: it cannot be told from the answer
    with TestClient(app, base_url=BASE, client=("203.0.113.8", 1)) as other:
        assert [sign_in(other).status_code for _ in range(8)] == [303] * 8  # what is right does not count


def test_a_form_of_somebody_elses_does_not_sign_in(closed: TestClient) -> None:
    """Signing somebody in without his knowledge: the form's word has to be the browser's own."""
    theirs = word_in(closed.get("/sign-in").text, "form")
    closed.get("/sign-in")
    answer = closed.post("/sign-in", data={"form": theirs, "password": WORDS}, follow_redirects=False)
    assert answer.status_code == 403
    evil = closed.post("/sign-in", data={"form": theirs, "password": WORDS}, headers={"origin": "https://evil.example"})
    assert evil.status_code == 403


def posts(app: Any) -> list[str]:
    """Every address under the token that changes something."""
    found = []
    for mount in app.routes:
        if isinstance(mount, Mount) and mount.path == f"/{TOKEN}":
            found += [
                route.path for route in mount.routes if isinstance(route, Route) and "POST" in (route.methods or ())
            ]
    return found


def test_every_form_wants_the_word_of_its_session(app: Any, closed: TestClient) -> None:
    sign_in(closed)
    start = closed.get(url()).text
    shown = send(closed, photo("chat.jpg"), **AS_PHOTOGRAPHED, csrf=word_in(start))
    assert shown.status_code == 200
    key = str(shown.url.path).split("/")[3]
    addresses, small = posts(app), ("photos", ("small.jpg", b"x", "image/jpeg"))
    assert len(addresses) >= 3
    for path in addresses:
        at = url(re.sub(r"\{[\w]+(:\w+)?\}", "1", path.replace("{key}", key)).lstrip("/"))
        for word in ({}, {"csrf": ""}, {"csrf": word_in(start)[:-1]}):
            sent = {**word, "coupling": "ball-50", "tape": "400"}
            statuses = {closed.post(at, data=sent, files=files).status_code for files in (None, [small])}
            assert 403 in statuses <= {403, 415}, (at, word)  # 415: a form of the other kind
    for page in (
        start,
        shown.text,
        closed.get(url(f"rig/{key}/answers")).text,
        closed.get(url(f"rig/{key}/mark")).text,
    ):
        forms = re.findall(r"<form[^>]*post.*?</form>", page, re.DOTALL)
        assert forms and all(word_in(form) for form in forms)


def test_old_links_are_only_so_many(app: Any) -> None:
    """Addresses that are guessed: after thirty the guesser is given no answer for a while, right or wrong."""
    with TestClient(app, base_url=BASE, client=FAR) as guessing:
        statuses = [guessing.get(f"/send/guess-{i}/").status_code for i in range(20)]
        statuses += [guessing.get(f"/aaaa-bbbb-{i:04}/").status_code for i in range(20)]
        assert statuses == [404] * 30 + [429] * 10
        answer = guessing.get("/sign-in")
        assert answer.status_code == 429 and "retry-after" in answer.headers
    with TestClient(app, base_url=BASE, client=("203.0.113.8", 1)) as other:
        assert other.get("/sign-in").status_code == 200
        assert TOKEN not in other.get("/send/nothing/").text


def test_whose_try_it_is_is_believed_of_the_trusted_proxy_only(app: Any) -> None:
    with TestClient(app, base_url=BASE, client=FAR) as guessing:
        for i in range(30):
            guessing.get(f"/send/guess-{i}/", headers={"x-forwarded-for": f"198.51.100.{i}"})
        assert guessing.get("/send/x/", headers={"x-forwarded-for": "198.51.100.99"}).status_code == 429
