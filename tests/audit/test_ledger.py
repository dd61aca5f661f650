"""What counts in the ledger, and `photomeasure audit` from the outside."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from rich.console import Console

from calib.outcome.errors import InputError
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.audit.ledger import read_ledger
from photomeasure.record.schema import PhotoPart, Record
from photomeasure.record.with_tape import with_tape
from photomeasure.shown.page_of_text import PageOfText
from tests.running import runs
from tests.shown.test_terminal import record, refused

run = runs("audit")


def put(folder: Path, number: int, *, photo: int | None = None, tape_mm: float | None = 412.0, made: str = "2026-05-01",
        one: Record | None = None) -> Path:  # fmt: skip
    """A record of its own photograph, with a tape."""
    photos = [PhotoPart(file="a.jpg", sha256=f"{number if photo is None else photo:064x}", camera="Yardphone 3")]
    kept = (one or record(height=412.6, U_mm=2.0)).model_copy(update={"photos": photos, "computed": made})
    path = folder / f"rig {number}.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(
        (with_tape(kept, TapeSaid(reading_mm=tape_mm)) if tape_mm is not None else kept).to_json(), encoding="utf-8"
    )
    return path


def test_records_with_tapes_count_and_the_rest_is_told(tmp_path: Path) -> None:
    put(tmp_path, 1)
    put(tmp_path / "deeper", 2)
    put(tmp_path, 3, tape_mm=None)
    put(tmp_path, 4, one=refused())
    (tmp_path / "bay.json").write_text('{"schema": "photomeasure/bay/1"}')
    (tmp_path / "broken.json").write_text('{"schema": "photomeasure/record/1"}')
    ledger = read_ledger([tmp_path])
    assert {pair.record_file.name for pair in ledger.pairs} == {"rig 1.json", "rig 2.json"}
    assert (ledger.untaped, ledger.refused, ledger.other_files, ledger.repeated) == (1, 1, 1, 0)
    assert len(ledger.unreadable) == 1 and "broken.json" in ledger.unreadable[0]
    assert ledger.pairs[0].tape_mm == 412.0 and ledger.pairs[0].camera == "Yardphone 3"


def test_of_the_same_photographs_the_last_record_counts(tmp_path: Path) -> None:
    """`--json` and `--out` write the same record twice, and a second measurement is no second tape."""
    put(tmp_path, 1, photo=7, made="2026-05-02", tape_mm=415.0)
    put(tmp_path, 2, photo=7, made="2026-05-01")
    ledger = read_ledger([tmp_path])
    assert [pair.tape_mm for pair in ledger.pairs] == [415.0] and ledger.repeated == 1


def test_a_file_that_is_named_twice_counts_once(tmp_path: Path) -> None:
    path = put(tmp_path, 1)
    ledger = read_ledger([path, tmp_path])
    assert len(ledger.pairs) == 1 and ledger.repeated == 0


def test_a_place_that_is_not_there_or_a_file_that_is_no_record(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="There is no"):
        read_ledger([tmp_path / "nowhere"])
    (tmp_path / "bay.json").write_text('{"schema": "photomeasure/bay/1"}')
    code, output = run(tmp_path / "bay.json")
    assert code == 3 and "Not read:" in output and "no record" in output


def test_a_broken_record_in_a_folder_shows_in_the_exit_code(tmp_path: Path) -> None:
    put(tmp_path, 1)
    assert run(tmp_path)[0] == 0
    (tmp_path / "broken.json").write_text('{"schema": "photomeasure/record/1"}')
    code, output = run(tmp_path)
    assert code == 3 and "broken.json" in output and "1 record with" in output


def test_a_file_that_is_no_record_does_not_stop_the_others(tmp_path: Path) -> None:
    one, bay = put(tmp_path, 1), tmp_path / "bay.json"
    bay.write_text('{"schema": "photomeasure/bay/1"}')
    code, output = run(bay, one, tmp_path / "nowhere", "--json", tmp_path / "audit.json")
    document = json.loads((tmp_path / "audit.json").read_text())
    assert code == 3 and "1 record with" in output and output.count("Not read:") == 2
    assert document["n"] == 1
    bay_said, nowhere_said = sorted(document["not_counted"]["not_read"], key=lambda said: "nowhere" in said)
    assert "bay.json is no record" in bay_said and "There is no" in nowhere_said
    assert run(bay, tmp_path / "nowhere")[0] == 3


def test_four_tapes_conclude_nothing(tmp_path: Path) -> None:
    for number in range(4):
        put(tmp_path, number)
    code, output = run(tmp_path, "--json", tmp_path / "out" / "audit.json")
    document = json.loads((tmp_path / "out" / "audit.json").read_text())
    assert code == 0 and "Nothing can be concluded yet" in output and "1 more" in output
    assert document["figures"] is None and len(document["pairs"]) == 4


def test_photographs_that_read_low_are_told_what_to_check(tmp_path: Path) -> None:
    for number in range(12):
        put(tmp_path, number, tape_mm=415.0 + number % 3)
    code, output = run(tmp_path, "--json", tmp_path / "out" / "audit.json")
    found = json.loads((tmp_path / "out" / "audit.json").read_text())
    assert code == 0 and "read 3.4 mm low" in output and "foot line" in output
    assert found["figures"]["bias_mm"] == pytest.approx(412.6 - 416.0) and found["figures"]["biased"]
    assert len(found["pairs"]) == found["n"] == 12


def test_marks_are_explained_where_they_stand(tmp_path: Path) -> None:
    for number in range(12):
        put(tmp_path, number, tape_mm=412.6 + (number % 3 - 1) * 0.5)
        put(
            tmp_path,
            50 + number,
            tape_mm=412.6 + (number % 3 - 1) * 0.5,
            one=record(height=412.6, U_mm=2.0, centre=None),
        )
    output = run(tmp_path)[1]
    assert "centre: pick" in output and "* a bias" not in output and "! intervals" not in output
    for number in range(12):
        put(tmp_path, 50 + number, tape_mm=416.0, one=record(height=412.6, U_mm=2.0, centre=None))
    output = run(tmp_path)[1]
    assert "* a bias" in output


def test_the_class_of_the_tape_is_the_records(tmp_path: Path) -> None:
    """A record without one is of a program that took every tape for class II."""
    kept = with_tape(record(), TapeSaid(reading_mm=412.0, tape_class="III")).to_json()
    (tmp_path / "new.json").write_text(kept)
    old = json.loads(kept)
    del old["tape"]["tape_class"]
    (tmp_path / "old.json").write_text(json.dumps(old))
    assert [read_ledger([tmp_path / name]).pairs[0].tape_class for name in ("new.json", "old.json")] == ["III", "II"]


def test_an_empty_folder_is_no_error(tmp_path: Path) -> None:
    code, output = run(tmp_path)
    assert code == 0 and "5 more" in output


def test_this_folder_is_the_default(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path, 1)
    monkeypatch.chdir(tmp_path)
    assert "1 record with" in run()[1]


def test_nothing_is_wider_than_a_terminal_of_80_columns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from photomeasure.commands import audit as command

    for number in range(12):
        put(tmp_path, number, tape_mm=410.0 + number, one=record(height=412.6, U_mm=2.0 + number % 2))
        put(tmp_path, 50 + number, one=record(centre=None))
    with (tmp_path / "page").open("w", encoding="utf-8") as stream:
        console = Console(file=stream, force_terminal=True, width=80, color_system=None)
        monkeypatch.setattr(PageOfText, "__init__", _on(console))
        command._show(read_ledger([tmp_path]))
    lines = (tmp_path / "page").read_text(encoding="utf-8").splitlines()
    assert max(len(line.rstrip()) for line in lines) <= 80 and any("centre: pick" in line for line in lines)


def _on(console: Console) -> object:
    plain = PageOfText.__init__

    def start(page: PageOfText) -> None:
        plain(page, console)

    return start


def test_a_record_that_was_cut_short_is_told(tmp_path: Path) -> None:
    """It is no JSON any more, but says at its beginning what it was; a deep file of somebody's is only passed over."""
    (tmp_path / "cut.json").write_text('{\n "schema": "photomeasure/record/1",\n "version": "0.', encoding="utf-8")
    (tmp_path / "deep.json").write_text("[" * 100_000, encoding="utf-8")
    (tmp_path / "other.json").write_text('{"mine": 1}', encoding="utf-8")
    (tmp_path / "case.seal.json").write_text('{\n "schema": "photomeasure/seal/1",\n "case": null}', encoding="utf-8")
    ledger = read_ledger([tmp_path])
    assert len(ledger.unreadable) == 1 and "cut.json" in ledger.unreadable[0] and ledger.other_files == 2
