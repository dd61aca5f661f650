"""A record's sentences keep what they were made from, in the file too, and nobody is told anything else than its text."""

from __future__ import annotations

import json

from calib.words.language import speaking
from calib.words.said import Digits, Said, said, shown
from photomeasure.record.schema import Record, RefusalPart, StatePart


def _record(sentence: str) -> Record:
    state = StatePart(coupling="pin", coupled=None, laden=None, level_ground=None)
    refusal = RefusalPart(code="x", reason=sentence, remedy="as it is")
    return Record(
        version="1", computed="2026-01-01", verdict="refused", sentence=sentence, state=state, refusal=refusal
    )


def test_there_and_back() -> None:
    sentence = said("{mm:.1f} mm, {rounded} mm, {way}", mm=1.25, rounded=Digits("3.0"), way=said("laden"))
    written = _record(sentence).to_json()
    again = Record.model_validate_json(written)
    assert again.to_json() == written
    assert again.refusal is not None
    assert isinstance(again.refusal.reason, Said)
    with speaking("de"):
        assert shown(again.sentence) == "1,2 mm, 3,0 mm, beladen"


def test_the_file_is_known_by_its_first_key_and_keeps_its_text() -> None:
    written = json.loads(_record(said("{a} mm", a=2)).to_json())
    assert next(iter(written)) == "schema"
    assert written["sentence"] == "2 mm"
    assert written["said"] == [{"text": "2 mm", "id": "{a} mm", "values": {"a": 2}}]


def test_a_record_of_before_is_read_as_it_was() -> None:
    written = json.loads(_record("plain words").to_json())
    del written["said"]
    assert Record.model_validate(written).sentence == "plain words"


def test_what_does_not_give_its_own_text_is_left_out() -> None:
    """Somebody wrote another sentence beside the text: the text holds."""
    written = json.loads(_record("Above the band").to_json())
    for row in (
        {"text": "Above the band", "id": "Within the band", "values": {}},
        {"text": "Above the band", "id": "{a:>99999999999}", "values": {"a": 1}},
        {"text": "Above the band", "id": "{a.__class__}", "values": {"a": 1}},
        {"text": "Above the band", "id": "{a}", "values": {"a": {"id": "{a}", "values": {"a": [[[[[]]]]]}}}},
    ):
        read = Record.model_validate(written | {"said": [row]})
        assert not isinstance(read.sentence, Said)
        assert read.sentence == "Above the band"
