"""Is this the ball? A ring in place of a refusal: yes marks it, no goes on to the next, and to marking by hand."""

from __future__ import annotations

import io
import re
import tomllib

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from starlette.testclient import TestClient

from photomeasure.seen.centre.ball import ball
from tests.web.sending import AS_PHOTOGRAPHED, SAMPLES, here, photo, record, send


@pytest.fixture(autouse=True)
def never_sure(monkeypatch: pytest.MonkeyPatch) -> None:
    """The ball is found, and no probability is enough to take it unasked."""
    monkeypatch.setattr(ball, "SURE", 1.1)
    monkeypatch.setattr(ball, "SURE_BARE", 1.1)


def hidden(page: str) -> dict[str, str]:
    """The form behind "yes"."""
    form = page.split('class="yes-no"')[1].split("</form>")[0]
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))


def ring_radii(picture: Image.Image) -> NDArray[np.float64]:
    """How far the ring's pixels are from the picture's middle."""
    pixels = np.asarray(picture.convert("RGB")).astype(int)
    near = np.abs(pixels - np.array([255, 210, 63])).sum(axis=2) < 60
    rows, columns = (place - (picture.width / 2 - 0.5) for place in np.nonzero(near))
    return np.asarray(np.hypot(rows, columns), dtype=np.float64)


def test_yes_measures_the_ball_that_the_ring_was_on(client: TestClient) -> None:
    shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
    assert "<h1>Is this the ball?</h1>" in shown.text and "Cannot measure" not in shown.text
    truth = tomllib.loads((SAMPLES / "within.toml").read_text(encoding="utf-8"))
    fields = hidden(shown.text)
    off_px = np.subtract([float(fields["x1"]), float(fields["y1"])], np.ravel(truth["centre_px"]))
    assert float(np.hypot(off_px[0], off_px[1])) < float(fields["u1"])
    picture = Image.open(io.BytesIO(client.get(here(shown) + "ask-1.jpg").content))
    ring = ring_radii(picture)
    # the ball is a sixth of the picture across; rust is as yellow as the ring, and lies anywhere
    assert abs(int(np.bincount(ring.astype(int)).argmax()) - (picture.width / 12 + 4)) < 3.0
    yes = client.post(here(shown) + "measure", data=fields)
    told = record(client, yes)
    assert told["centre"]["source"] == "pick" and abs(told["height_mm"] - truth["height_mm"]) < told["U_mm"]
    assert "Is this the ball?" not in yes.text and "Within the band" in yes.text


def test_no_goes_on_to_the_next_and_then_to_marking_by_hand(client: TestClient) -> None:
    shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
    seen = []
    page = shown.text
    while 'class="yes-no"' in page:
        seen.append((hidden(page)["x1"], hidden(page)["y1"]))
        following = re.search(r'href="[^"]*/(\?not=\d+)">No<', page)
        assert following is not None and len(seen) < 10
        page = client.get(here(shown) + following[1]).text
    assert len(set(seen)) == len(seen) >= 1 and "Cannot measure" in page and '/mark">Mark it' in page
    assert client.get(here(shown) + f"ask-{len(seen) + 1}.jpg").status_code == 404
    for rubbish in ("-1", "x", "9" * 30, ""):
        assert client.get(here(shown) + f"?not={rubbish}").status_code == 200


def test_a_covered_ball_is_not_asked_for(client: TestClient) -> None:
    shown = send(client, photo("within.jpg"), **{**AS_PHOTOGRAPHED, "coupled": "yes"})
    assert "Is this the ball?" not in shown.text and "Cannot measure" in shown.text
