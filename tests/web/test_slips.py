"""A slip loses nothing: what is wrong stands beside its field, with what was typed and sent."""

from __future__ import annotations

import html
import re
from typing import Any

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from photomeasure.web.cases import Cases
from tests.web.sending import AS_PHOTOGRAPHED, SAMPLES, here, photo, record, send, url

CHAT = (SAMPLES / "chat.jpg").read_bytes()


def named(name: str, content: bytes = CHAT) -> Any:
    return "photos", (name, content, "image/jpeg")


def field(page: str, name: str) -> str:
    """The input of that id, with its attributes."""
    found = re.search(rf'<input id="{name}"[^>]*>', page)
    assert found is not None
    return found[0]


def plain(page: str) -> str:
    return html.unescape(re.sub("<[^>]*>", "", page))


def test_a_tape_that_cannot_be_read_stands_beside_its_field(client: TestClient) -> None:
    shown = send(client, photo("within.jpg"), **AS_PHOTOGRAPHED)
    sent = {"tape": "abc", "tape_to": "top", "tape_flat": "12", "tape_class": "I"}
    slip = client.post(here(shown) + "tape", data=sent)
    assert slip.status_code == 400 and "Within the band" in slip.text
    assert 'value="abc"' in field(slip.text, "reading") and 'aria-invalid="true"' in field(slip.text, "reading")
    assert 'id="tape-mistake"' in slip.text and 'value="12"' in field(slip.text, "reading-to-flat")
    assert 'value="top" selected' in slip.text and 'value="I" selected' in slip.text
    assert client.get(here(shown) + "tape").url.path == here(shown)  # loaded again, it leads back
    assert record(client, shown)["tape"] is None
    kept = client.post(here(shown) + "tape", data={**sent, "tape": "402", "tape_to": "", "tape_flat": ""})
    assert kept.status_code == 200 and record(client, kept)["tape"]["reading_mm"] == 402.0


def test_a_mark_that_cannot_be_read_stands_beside_its_field(client: TestClient) -> None:
    first = send(client, photo("chat.jpg"), **AS_PHOTOGRAPHED, mark="first")
    slip = client.post(here(first) + "measure", data={"marks": "these", "x1": "abc", "y1": "596"})
    assert slip.status_code == 400 and 'id="mark1-mistake"' in slip.text and "no pair of coordinates" in slip.text
    assert 'value="abc"' in field(slip.text, "x1") and 'value="596"' in field(slip.text, "y1")
    assert client.get(here(first) + "measure").status_code == 200
    right = client.post(here(first) + "measure", data={"marks": "these", "x1": "820.26", "y1": "596"})
    assert right.status_code == 200 and record(client, right)["centre"]["px"] == [[820.26, 596.0]]


@pytest.mark.parametrize(("names", "said"), [(("a.jpg", "b.jpg"), "b.jpg and a.jpg are one photograph"),
                                             (("a.jpg", "a.jpg"), "a.jpg was chosen twice")])  # fmt: skip
def test_one_photograph_chosen_twice_is_kept_once(
    client: TestClient, cases: Cases, names: tuple[str, str], said: str
) -> None:
    twice = send(client, *map(named, names), **AS_PHOTOGRAPHED)
    assert twice.status_code == 400 and said in plain(twice.text) and 'value="150"' in field(twice.text, "bar_x")
    assert "upload-" not in twice.text and str(cases.root) not in twice.text
    action = twice.text.split('id="start"')[1].split('action="')[1].split('"')[0]
    went_on = client.post(action, data={"coupling": "ball-50", **AS_PHOTOGRAPHED})
    assert [photo["file"] for photo in record(client, went_on)["photos"]] == ["a.jpg"]


def test_photographs_of_one_name_can_be_told_apart(client: TestClient) -> None:
    """Two pictures with nothing on them: what is refused names the first as the person does."""
    shown = send(client, named("image.jpg"), named("image.jpg", (SAMPLES / "within.jpg").read_bytes()))
    assert [photo["file"] for photo in record(client, shown)["photos"]] == ["image.jpg", "image (2).jpg"]


def test_a_photograph_may_be_called_as_a_stored_file_is(client: TestClient, tmp_path: Any) -> None:
    """Chained replacements made `mine.jpg.jpg` of it."""
    blank = tmp_path / "blank.jpg"
    Image.fromarray(np.full((400, 600, 3), 128, np.uint8)).save(blank)
    shown = send(client, named("upload-2.jpg"), named("mine.jpg", blank.read_bytes()), rig="upload-1")
    told = record(client, shown)
    assert "mine.jpg" in told["refusal"]["reason"] and "mine.jpg.jpg" not in str(told)
    assert [photo["file"] for photo in told["photos"]] == ["upload-2.jpg", "mine.jpg"] and told["rig"] == "upload-1"


def test_what_was_typed_is_kept_where_photographs_are_wrong(client: TestClient, cases: Cases) -> None:
    blank = ("photos", ("", b"", "application/octet-stream"))
    for photos in ([blank], [named(f"{i}.jpg") for i in range(9)]):
        answer = client.post(
            url("measure"), files=photos, data={"coupling": "pin", "rig": "Ferncombe 7", "bar_x": "149"}
        )
        assert answer.status_code == 400 and 'id="photos-mistake"' in answer.text and "What was typed" in answer.text
        assert 'value="149"' in field(answer.text, "bar_x") and 'value="Ferncombe 7"' in field(answer.text, "rig")
    assert len(cases) == 0
