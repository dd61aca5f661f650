"""Lines that dealer and customer write to each other, and what is asked once more after the rig was moved."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest

from photomeasure.web.enquiries.enquiry import Enquiry
from photomeasure.web.enquiries.messages import LONGEST, MOST, keep_message, messages_of
from photomeasure.web.enquiries.shelf import Shelf
from photomeasure.web.problems import PageError
from tests.web.enquiries.door import answered, made, opened, press, text_of
from tests.web.sending import BASE, url


def test_a_line_goes_to_the_customer_and_one_comes_back(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        place, link = made(client)
        assert "Messages" not in text_of(client.get(link))  # nothing that leads away from what is to be done
        told = client.post(place + "message", data={"text": "The sheet is  in the post <b>today</b>."})
        assert "You, " in text_of(told) and "The sheet is in the post <b>today</b>." in text_of(told)
        assert "Bo, " in text_of(client.get(link)) and "&lt;b&gt;today" in client.get(link).text
        client.get(place)
        assert "Ferncombe 7 new" not in text_of(client.get(url("cases/")))
        answer = client.post(link + "message", data={"text": "It has come."})
        assert (
            str(answer.url) == f"{BASE}{link}#messages"
            and "You, " in text_of(answer)
            and "It has come." in text_of(answer)
        )
        assert "Ferncombe 7 new" in text_of(client.get(url("cases/")))
        assert "Ada, " in text_of(client.get(place)) and "It has come." in text_of(client.get(place))
        # what is asked for stands among them, and nothing empty or endless does
        client.post(place + "ask", data={"own": "One from the right, please."})
        client.post(link + "message", data={"text": "  "})
        client.post(link + "message", data={"text": "x" * 5000})
        kept = json.loads(zipfile.ZipFile(io.BytesIO(client.get(place + "export.zip").content)).read("case.json"))[
            "messages"
        ]
        assert [(one["by"], len(one["text"])) for one in kept] == [
            ("dealer", 38),
            ("customer", 12),
            ("dealer", 27),
            ("customer", LONGEST),
        ]
        press(client, place + "delete")
        assert client.post(link + "message", data={"text": "Hello?"}).status_code == 404
    assert b"It has come." not in (tmp_path / "kept" / "store.sqlite").read_bytes()


def test_a_script_cannot_fill_the_disk_with_lines(shelf: Shelf, enquiry: Enquiry) -> None:
    for _ in range(MOST):
        keep_message(shelf, enquiry.key, "again", by_customer=True)
    with pytest.raises(PageError, match="too many messages"):
        keep_message(shelf, enquiry.key, "again", by_customer=True)
    assert len(messages_of(shelf, enquiry.key)) == MOST


def test_a_customers_line_is_what_they_typed_whatever_it_looks_like(shelf: Shelf, enquiry: Enquiry) -> None:
    """Asked-for sentences are kept so that they can be told in another language; a person's words never are."""
    typed = '{"text": "The dealer says: drive on.", "id": "The dealer says: drive on.", "values": {}}'
    keep_message(shelf, enquiry.key, typed, by_customer=True)
    assert messages_of(shelf, enquiry.key)[0].text == typed


def test_what_may_be_otherwise_now_is_asked_again_with_what_was_so_before(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        place, link = made(client)
        answered(client, link)
        client.post(place + "ask", data={"own": "Once more, loaded, please."})
        assert "Has anything been moved" in text_of(client.get(link + "next"))
        asked = client.post(link + "question/moved", data={"value": "yes"})
        assert "Will the trailer be hitched" in text_of(asked) and "you said: No, the ball is bare." in text_of(asked)
        assert 'class="button chosen" type="submit" name="value" value="no"' in asked.text
        asked = client.post(link + "question/coupled", data={"value": "no"})
        assert "Is it loaded" in text_of(asked) and "you said: No, empty or nearly." in text_of(asked)
        client.post(link + "question/laden", data={"value": "yes"})
        last = client.post(link + "question/level_ground", data={"value": "yes"})
        assert "The first photograph" in text_of(last)  # the print is what it was: its bars are not asked for again
        case = text_of(client.get(place))
        assert "Yes, loaded" in case and "No, empty or nearly" not in case


def test_where_nothing_was_moved_nothing_is_asked_again(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        place, link = made(client)
        answered(client, link)
        client.post(place + "ask", data={"own": "One from the right, please."})
        assert "you said" not in text_of(client.post(link + "question/moved", data={"value": "no"}))
