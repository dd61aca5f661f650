"""Prints and phones of the page: what is remembered there is taken for every rig, said in its record, and forgotten again."""

from __future__ import annotations

import asyncio
import io
import json
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from starlette.testclient import TestClient

from calib.kit.kit import kit
from photomeasure.seen.board_photos import KitSheet
from photomeasure.web.bench import Bench
from photomeasure.web.enquiries.calibrating import Calibrating
from photomeasure.web.remembered import Remembered
from tests.commands.test_command_calibrate import CAMERA, exif_of, kit_photographs
from tests.seen.test_ticked import NUMBER, Rig, facts_of
from tests.web.enquiries.door import made, opened, text_of
from tests.web.sending import here, photo, url

BARS_MM = kit("a4").upright.bars_mm
STATED = {"coupled": "no", "laden": "no", "level_ground": "yes"}


@pytest.fixture(autouse=True)
def of_the_user(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """What the command line remembers for this user, of this test alone."""
    folder = tmp_path / "of-the-user"
    monkeypatch.setattr("photomeasure.web.remembered.profile_folder", lambda: folder)
    return folder


@pytest.fixture(scope="module")
def rig(unticked: Rig) -> Rig:
    return unticked


@pytest.fixture(scope="module")
def boards() -> list[tuple[str, tuple[str, bytes, str]]]:
    """Eight photographs of the kit's sheet by a known camera, as a form sends them."""
    files = []
    for number, picture in enumerate(kit_photographs()):
        stream = io.BytesIO()
        Image.fromarray(picture).save(stream, "JPEG", quality=94, exif=exif_of("Yard <1>", 26))
        files.append(("boards", (f"IMG {number}.jpg", stream.getvalue(), "image/jpeg")))
    return files


def record_of(client: TestClient, place: str) -> dict[str, Any]:
    read: dict[str, Any] = json.loads(client.get(place + "record.json").content)
    return read


def test_a_print_is_measured_once_in_its_life(rig: Rig, tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        before = client.post(
            url("measure"),
            files=[("photos", ("rig.jpg", rig.path.read_bytes(), "image/jpeg"))],
            data={"coupling": "ball-50", **STATED},
        )
        place = here(before)
        kept = client.post(
            url("remembered/print"),
            data={"number": str(NUMBER), "bar_x": rig.bars["x"].replace(".", ","), "bar_y": rig.bars["y"]},
        )
        assert f"Print {NUMBER:06d} Bar X {float(rig.bars['x']):g} mm, bar Y" in text_of(kept)
        again = client.post(place + "measure", data={"coupling": "ball-50", **STATED})  # the same answers, and yet anew
        assert here(again) != place
        old, new = record_of(client, place), record_of(client, here(again))
        assert new["U_mm"] < 0.5 * old["U_mm"] and abs(new["height_mm"] - rig.height_mm) < new["U_mm"]
        assert facts_of(new)["bar-x"][1] == "remembered"
        assert f"print-{NUMBER:06d}.json" in new["asked"]["remembered"]  # with which verify repeats it
        # nothing has changed: measured once
        assert here(client.post(here(again) + "measure", data={"coupling": "ball-50", **STATED})) == here(again)
    with opened(tmp_path / "kept") as client:
        assert here(client.post(here(again) + "measure", data={"coupling": "ball-50", **STATED})) == here(again)
        gone = client.post(url(f"remembered/print/{NUMBER}/forget"), data={"pressed": "yes"})
        assert f"Print {NUMBER:06d}" not in text_of(gone)
        last = client.post(here(again) + "measure", data={"coupling": "ball-50", **STATED})
        assert record_of(client, here(last))["U_mm"] == old["U_mm"]


def test_slips_are_told_beside_their_fields(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        for typed, words in (
            ({"number": "1234567", "bar_x": "150"}, "no number of a print"),
            ({"number": "0", "bar_x": "150"}, "no number of a print"),
            ({"number": "12", "bar_x": "14.9"}, "135 to 310 mm"),
            ({"number": "12"}, "Nothing was typed"),
        ):
            answer = client.post(url("remembered/print"), data=typed)
            assert (
                answer.status_code == 400 and words in text_of(answer) and f'value="{typed["number"]}"' in answer.text
            )
        assert client.get(url("remembered/")).status_code == 200 and not list(
            (tmp_path / "kept" / "remembered").rglob("*.json")
        )
        few = client.post(url("remembered/phone"), files=[photo("within.jpg")], data={"board": "sheet"})
        assert few.status_code == 400 and "0 photographs were chosen" in text_of(few)
        board = client.post(
            url("remembered/phone"),
            files=[("boards", ("a.jpg", b"x", "image/jpeg"))] * 3,
            data={"board": "chessboard", "columns": "9", "rows": "six"},
        )
        assert board.status_code == 400 and "no number" in text_of(board) and "Nothing was typed" in text_of(board)


@pytest.mark.usefixtures("few_lens_models")
def test_a_phone_is_calibrated_used_and_forgotten(boards: list[Any], tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    with opened(folder) as client:
        data = {"board": "sheet", "sheet_x": f"{BARS_MM[0]}", "sheet_y": f"{BARS_MM[1]}"}
        begun = client.post(url("remembered/phone"), files=boards, data=data)
        assert "being calibrated" in text_of(begun) and "data-waits" in begun.text
        twice = client.post(url("remembered/phone"), files=boards[:3], data=data)
        assert twice.status_code == 400 and "already" in text_of(twice)
        page = waited(client)
        said = text_of(page)
        assert "Invented Optics Yard <1>" in said and "Photographs used 8" in said and "Focal length" in said
        assert list((folder / "photographs").iterdir()) == []  # the photographs are not kept
        (phone,) = Remembered(folder / "remembered").phones()
        sigma = np.sqrt(np.diag(np.array(phone.profile.covariance)))
        assert np.all(np.abs(np.array(phone.profile.intrinsics) - CAMERA)[:4] < 3 * sigma[:4])
        assert {one.file for one in phone.profile.photographs} == {f"IMG {number}.jpg" for number in range(8)}
        assert phone.name.startswith("invented-optics-yard-1-")
        taken = client.get(url(f"remembered/phone/{phone.name}.json"))
        assert json.loads(taken.content)["schema"] == "photomeasure/camera/1"
        # a photograph of that phone is measured with it
        sent = client.post(
            url("measure"),
            files=[("photos", ("a.jpg", boards[0][1][1], "image/jpeg"))],
            data={"coupling": "ball-50", **STATED},
        )
        assert f"{phone.name}.json" in record_of(client, here(sent))["asked"]["remembered"]
    with opened(folder) as client:
        assert "Yard <1>" in text_of(client.get(url("remembered/")))
        for name in ("..%2f..%2ftoken", "nothing"):
            client.post(url(f"remembered/phone/{name}/forget"), data={"pressed": "yes"})
            assert client.get(url(f"remembered/phone/{name}.json")).status_code == 404
        assert (folder / "store.sqlite").exists()
        client.post(url(f"remembered/phone/{phone.name}/forget"), data={"pressed": "yes"})
        assert (
            "Yard" not in text_of(client.get(url("remembered/"))) and Remembered(folder / "remembered").edition() == ""
        )


def test_photographs_that_are_no_board_are_told_and_removed(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        client.post(
            url("remembered/phone"),
            files=[("boards", (f"mine-{n}.jpg", b"not a picture" * (n + 1), "image/jpeg")) for n in range(3)],
            data={"board": "sheet"},
        )
        said = text_of(waited(client))
        assert "was not calibrated" in said and "None of the photographs can be read" in said and "board-0" not in said
        assert list((tmp_path / "kept" / "photographs").iterdir()) == []


def test_of_two_that_are_sent_at_once_one_is_told_to_wait(tmp_path: Path) -> None:
    async def both() -> None:
        bench = Bench(Remembered(tmp_path / "remembered"))
        calibrating = Calibrating(bench.remembered, bench, tmp_path)
        first, second = (calibrating.keep([("board.jpg", io.BytesIO(b"no picture"))]) for _ in range(2))
        assert [calibrating.begin(one, KitSheet()) for one in (first, second)] == [True, False]
        assert [next(iter(one)).exists() for one in (first, second)] == [True, False]
        async with asyncio.timeout(20):
            while calibrating.under_way:
                await asyncio.sleep(0.01)
        assert calibrating.ended is not None and calibrating.ended.why and not next(iter(first)).exists()
        await bench.close()

    asyncio.run(both())


def test_a_store_begins_with_what_the_command_line_remembers(of_the_user: Path, tmp_path: Path) -> None:
    Remembered(of_the_user).keep_print(4711, 149.5, None)
    with opened(tmp_path / "kept") as client:
        assert "Print 004711 Bar X 149.5 mm" in text_of(client.get(url("remembered/")))
        client.post(url("remembered/print/4711/forget"), data={"pressed": "yes"})
    with opened(tmp_path / "kept") as client:  # once, and not at every start
        assert "004711" not in text_of(client.get(url("remembered/")))
    assert len(Remembered(of_the_user).prints()) == 1


def test_a_customer_who_is_sent_a_remembered_print_is_not_asked_for_its_bars(tmp_path: Path) -> None:
    with opened(tmp_path / "kept") as client:
        assert "print_number" not in client.get(url("cases/new")).text
        client.post(url("remembered/print"), data={"number": "4711", "bar_x": "149.5", "bar_y": "150.1"})
        client.post(
            url("remembered/print"), data={"number": "4712", "bar_x": "149.5"}
        )  # half of it is still to be measured
        offered = client.get(url("cases/new")).text
        assert 'value="004711"' in offered and "004712" not in offered
        for print_number, by_post, after in (
            ("004711", "yes", "The first photograph"),
            ("004711", "", "How long did"),
            ("999999", "yes", "How long did"),
        ):
            place, link = made(client, print_number=print_number, **({"by_post": by_post} if by_post else {}))
            for name, value in (("coupled", "no"), ("laden", "no"), ("level_ground", "yes")):
                answer = client.post(f"{link}question/{name}", data={"value": value})
            assert after in text_of(answer), (print_number, by_post)
            assert ('value="004711" selected' in client.get(place + "edit").text) == (after == "The first photograph")


def waited(client: TestClient) -> Any:
    for _ in range(3000):
        page = client.get(url("remembered/"))
        if "data-waits" not in page.text:
            return page
        time.sleep(0.1)
    raise AssertionError("it never ended")
