"""A customer's pages in the customer's language: what was chosen at their foot, else what the case says, else the browser."""

from __future__ import annotations

import json
from pathlib import Path

from calib.words.language import speaking
from calib.words.said import said, shown
from photomeasure.web.enquiries.asks import USUAL, asks_of
from photomeasure.web.enquiries.enquiry import About, Looked
from photomeasure.web.enquiries.photographs import keep_looked, photographs_of
from photomeasure.web.enquiries.said import with_answer
from photomeasure.web.script_words import in_scripts
from photomeasure.web.store import Store
from tests.web.enquiries.door import in_pieces, made, opened, press, sample, text_of
from tests.web.sending import url
from tests.words import in_the_code

DANISH = {"accept-language": "da-DK,da;q=0.9,en;q=0.5"}


def test_the_case_says_the_language_else_the_browser(tmp_path: Path) -> None:
    with opened(tmp_path) as client:
        _, plain = made(client)
        _, german = made(client, language="de")
        assert "Guten Tag, Ada" in text_of(client.get(german, headers=DANISH))
        assert '<html lang="de"' in client.get(german, headers=DANISH).text
        assert "Hej Ada" in text_of(client.get(plain, headers=DANISH))
        assert "Hello Ada" in text_of(client.get(plain))
        assert "Hej Ada" in text_of(client.get(german + "?language=da"))  # and from then on
        assert "Hej Ada" in text_of(client.get(german))


def test_what_is_asked_for_is_read_in_the_customers_language(tmp_path: Path) -> None:
    with opened(tmp_path) as client:
        place, link = made(client, language="da")
        asked = client.post(place + "ask", data={"sentence": str(USUAL[0]), "own": ""})
        assert asked.status_code == 200 and str(USUAL[0]) in text_of(asked)
        with speaking("da"):
            assert shown(USUAL[0]) in text_of(client.get(link))
        client.post(place + "ask", data={"sentence": "", "own": '{"text": please}'})
        assert '{"text": please}' in text_of(client.get(link))


def test_the_drawings_and_a_withdrawn_link_too(tmp_path: Path) -> None:
    with opened(tmp_path) as client:
        place, link = made(client, language="de")
        assert "gleiche Höhe" in client.get(link + "drawing-3.svg").text
        press(client, place + "withdraw")
        gone = client.get(link)
        assert gone.status_code == 410 and '<html lang="de"' in gone.text and "zurückgezogen" in gone.text


def test_what_was_seen_in_a_photograph_is_kept_so_that_it_can_be_told(tmp_path: Path) -> None:
    store = Store(tmp_path)
    enquiry = store.shelf.make(About(rig="Ferncombe 7", customer="Ada"))
    looked = Looked(
        worth="good",
        sentence=said("{found} Better still: {better}.", found=said("Good: sheet and ball found."), better="x"),
    )
    from io import BytesIO

    from photomeasure.web.enquiries.arriving import whole

    data = sample("chat.jpg")
    photograph = whole(store.shelf, enquiry, "a.jpg", BytesIO(data), len(data))
    keep_looked(store.shelf, photograph.number, looked)
    kept = photographs_of(store.shelf, enquiry)[0].looked
    assert kept == looked
    with speaking("de"):
        assert kept is not None and shown(kept.sentence).startswith("Gut: Blatt und Kugel gefunden.")
        assert shown(with_answer(looked, False).sentence).startswith("Das Blatt ist gefunden")


def test_the_coachs_sentences_as_a_customer_reads_them() -> None:
    """Of everything that the coach can say either a whole sentence, or nothing where it is no matter of a photograph."""
    what = [
        key
        for key, files in in_the_code().items()
        if "photomeasure/interval/coach.py" in files and isinstance(key, str)
    ]
    values = {"m": 0.3, "way": said("right"), "centre": 8.0, "good_distance_mm": 2.0, "away": 3.4}
    told = {
        template: asks_of([said("{sentence}: then.", sentence=said(template, **values))])[: -len(USUAL)]
        for template in what
        if template[0].isupper() and not template.startswith(("Measure", "Calibrate"))
    }
    assert len(told) >= 7
    assert all(len(found) == 1 and found[0].startswith("Please ") for found in told.values()), told
    assert asks_of([said("{sentence}: then.", sentence=said("Calibrate the camera and use its profile"))]) == USUAL


def test_scripts_bring_no_sentence_that_the_catalogues_lack() -> None:
    """Both look for them, each in its own way."""
    found = {key for key, files in in_the_code().items() if any(file.endswith(".js") for file in files)}
    assert set(in_scripts()) == found and len(found) > 10


def test_the_page_gives_its_scripts_their_words(tmp_path: Path) -> None:
    with opened(tmp_path) as client:
        page = client.get(url(""), headers=DANISH).text
        words = json.loads(page.partition('id="words">')[2].partition("</script>")[0])
        assert words["decimal"] == "," and words["sentences"]["Remove"] == "Fjern"
        assert set(words["sentences"]) == set(in_scripts())


def test_pieces_go_on_in_any_language(tmp_path: Path) -> None:
    with opened(tmp_path) as client:
        _, link = made(client, language="de")
        number = in_pieces(client, link, sample("chat.jpg"))
        assert "Foto" in text_of(client.get(f"{link}photographs")) and number
