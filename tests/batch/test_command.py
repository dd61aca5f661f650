"""`photomeasure batch` from the outside: records, table, going on, failures, any number of processes."""

from __future__ import annotations

import csv
import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from calib.outcome.errors import InputError
from calib.outcome.files import write_atomic
from photomeasure.asked.case import Particulars
from photomeasure.asked.stated import Stated
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.batch import run as run_module
from photomeasure.batch.rigs import rigs_in
from photomeasure.batch.rows import Done
from photomeasure.batch.run import run as run_tasks
from photomeasure.batch.tasks import Task, tasks_of
from photomeasure.record.measure_and_record import MONTE_CARLO_SEED, recorded
from photomeasure.record.schema import read_record
from photomeasure.repeat.compare import compare
from photomeasure.repeat.verify import verify
from photomeasure.rules.decision import parse_decision
from photomeasure.shown.picture.pictures import pictures
from tests.asked.test_asked import BAY
from tests.batch.dying import dies
from tests.batch.here import Here
from tests.running import runs
from tests.sample_requests import SAMPLES, sample_request

HEADER = "rig,photo,bar_x_mm,bar_y_mm,centre_x,centre_y,coupled,laden,level_ground,tape_mm\n"


run = runs("batch")


def row(rig: str, name: str, tape_mm: str = "") -> str:
    (x, y) = sample_request(name).centres_px[0] or (0.0, 0.0)
    return f"{rig},{SAMPLES / name}.jpg,150,150,{x},{y},no,no,yes,{tape_mm}\n"


def listed(place: Path, *rows: str) -> Path:
    path = place / "rigs.csv"
    path.write_text(HEADER + "".join(rows), encoding="utf-8")
    return path


def table(out: Path) -> dict[str, dict[str, str]]:
    with (out / "table.csv").open(newline="", encoding="utf-8") as stream:
        return {line["rig"]: line for line in csv.DictReader(stream)}


def richer(place: Path) -> Path:
    """A list in which each rig is judged in another way, and its ground known so."""
    path = place / "rigs.csv"
    more = {"truck 2": ("within", "5,max-false-acceptance=0.01,no"), "van": ("above", ",,")}
    rows = (row(rig, name).replace("\n", f",{said}\n") for rig, (name, said) in more.items())
    path.write_text(
        HEADER.replace("\n", ",level_within_mm_per_m,decision,level_control\n") + "".join(rows), encoding="utf-8"
    )
    return path


def content(path: Path) -> dict[str, Any]:
    kept: dict[str, Any] = json.loads(path.read_text())
    return {key: value for key, value in kept.items() if key != "computed"}


@pytest.mark.usefixtures("in_this_process")
def test_one_rig_fails_one_is_refused_and_the_others_are_measured(tmp_path: Path) -> None:
    rigs = listed(
        tmp_path,
        row("truck 2", "within", "402"),
        row("van", "above"),
        f"gone,{tmp_path / 'gone.jpg'},,,,,,,,\n",
        f"blur,{SAMPLES / 'refuse.jpg'},,,,,,,,\n",
    )
    code, output = run(rigs, "--out", tmp_path / "out")
    rows = table(tmp_path / "out")
    assert code == 3 and list(rows) == ["truck 2", "van", "gone", "blur"]
    assert (rows["truck 2"]["verdict"], rows["van"]["verdict"], rows["blur"]["refusal"]) == (
        "within",
        "above",
        "no-sheet",
    )
    assert abs(float(rows["truck 2"]["height_mm"]) - 402.0) < 1.5 and abs(float(rows["truck 2"]["En"])) < 1.0
    refusal = read_record(tmp_path / "out" / "blur.json").refusal
    assert refusal is not None
    assert (rows["blur"]["refusal_reason"], rows["blur"]["refusal_remedy"]) == (refusal.reason, refusal.remedy)
    assert f"blur: {refusal.reason} Next: {refusal.remedy}" in output
    assert (rows["blur"]["indicative"], rows["van"]["indicative"]) == ("", "yes")
    assert "Cannot open" in rows["gone"]["error"] and not rows["gone"]["record"]
    assert "4 rigs: 1 within the band, if ...; 1 above the band, if ...; 1 cannot measure; 1 failed." in output
    record = read_record(tmp_path / "out" / "truck 2.json")
    alone = recorded(sample_request(case=Particulars(rig="truck 2")), tape=TapeSaid(reading_mm=402.0))[1]
    assert not compare(alone, record).differing  # measure and batch are one
    assert verify(tmp_path / "out" / "truck 2.json", None).outcome == "same"


def test_numbers_do_not_hang_on_the_number_of_processes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One after the other where the test is, and in two processes of their own, a rig each."""
    rigs = richer(tmp_path)
    for jobs in (2, 1):
        if jobs == 1:
            monkeypatch.setattr(run_module, "Workers", Here)
        assert run(rigs, "--out", tmp_path / str(jobs), "--jobs", jobs, "--monte-carlo", "--pictures")[0] == 0
    for name in ("truck 2", "van"):
        one, two = (content(tmp_path / jobs / f"{name}.json") for jobs in "12")
        assert one == two and one["monte_carlo"]["trials"] > 0
        drawn = [(tmp_path / jobs / f"{name}-height.jpg").read_bytes() for jobs in "12"]
        assert drawn[0] == drawn[1]
    first, second = ((tmp_path / jobs / "table.csv").read_bytes() for jobs in "12")
    assert first == second


@pytest.mark.usefixtures("few_draws", "in_this_process")
def test_every_option_of_measure_says_in_a_batch_what_it_says_there(tmp_path: Path) -> None:
    """In a list a rig's own word goes over the common one; what is kept is kept only with the same options."""
    rigs, out = richer(tmp_path), tmp_path / "out"
    common = ("--decision", "guarded=0.5", "--level-within", "20", "--monte-carlo", "--pictures", "--level-control")
    assert run(rigs, "--out", out, *common)[0] == 0
    for rig, name, decision, within, control in (
        ("truck 2", "within", "max-false-acceptance=0.01", 5.0, False),
        ("van", "above", "guarded=0.5", 20.0, True),  # by the common words
    ):
        request = sample_request(
            name, decision=parse_decision(decision), level_within_mm_per_m=within, case=Particulars(rig=rig)
        )
        request = replace(request, state=replace(request.state, level_control=control))
        outcome, alone = recorded(request, seed=MONTE_CARLO_SEED)
        assert not compare(alone, read_record(out / f"{rig}.json")).differing
        assert [(out / f"{rig}-height.jpg").read_bytes()] == [data for _, data in pictures(alone, outcome)]
    assert "2 kept" in run(rigs, "--out", out, *common)[1]
    (out / "van-height.jpg").unlink()  # drawn again, and all of it made again without the check
    assert "1 kept" in run(rigs, "--out", out, *common)[1] and (out / "van-height.jpg").is_file()
    assert "kept" not in run(rigs, "--out", out, *common[:4], "--pictures", "--level-control")[1]
    without = run(rigs, "--out", out, "--decision", "simple", "--level-within", "20")[1]
    assert "Pictures of earlier records" in without and "van-height.jpg" in without  # its figure is another now


@pytest.mark.usefixtures("in_this_process")
def test_how_well_centres_were_picked_is_said_for_all_or_for_one_rig(tmp_path: Path) -> None:
    rigs, out = listed(tmp_path, row("truck 2", "within"), row("van", "above")), tmp_path / "out"
    lines = rigs.read_text(encoding="utf-8").splitlines()
    lines = [lines[0] + ",pick_u_px", lines[1] + ",2", lines[2] + ","]
    rigs.write_text("\n".join(lines), encoding="utf-8")
    assert run(rigs, "--out", out, "--pick-u", "1.5")[0] == 0
    for name, u_px in (("truck 2", 2.0), ("van", 1.5)):
        record = read_record(out / f"{name}.json")
        assert record.asked is not None and record.asked.pick_sigma_px == u_px
    alone = recorded(sample_request(pick_sigma_px=2.0, case=Particulars(rig="truck 2")))[1]
    assert not compare(alone, read_record(out / "truck 2.json")).differing
    with pytest.raises(InputError, match=r"--pick-u is 90"):
        run(rigs, "--out", out, "--pick-u", "90")


@pytest.mark.usefixtures("in_this_process")
def test_a_bay_is_used_and_kept(tmp_path: Path) -> None:
    """None of its markers is in the picture: refused for that, as measure refuses it."""
    bay = tmp_path / "bay.json"
    bay.write_text(json.dumps(BAY.model_dump(mode="json", by_alias=True)), encoding="utf-8")
    shutil.copyfile(SAMPLES / "within.jpg", tmp_path / "van.jpg")
    (tmp_path / "rigs.csv").write_text("rig,photo,bay\nvan,van.jpg,bay.json\n", encoding="utf-8")
    for source, out in ((tmp_path, "folder"), (tmp_path / "rigs.csv", "list")):
        common = ("--bay", bay) if out == "folder" else ()
        assert run(source, "--out", tmp_path / out, *common)[0] == 3
        record = read_record(tmp_path / out / "van.json")
        assert record.refusal is not None and record.refusal.code == "no-markers"
        assert record.asked is not None and record.asked.bay == BAY.model_dump(mode="json", by_alias=True)


@pytest.mark.usefixtures("in_this_process")
def test_pictures_of_several_photographs_and_a_folder_in_the_yard(tmp_path: Path) -> None:
    """Pictures are named after the rig, and where they lie among the photographs they are no rig the next time."""
    (tmp_path / "yard" / "truck").mkdir(parents=True)
    for number in (1, 2):  # no centre is marked
        shutil.copyfile(SAMPLES / f"set-{number}.jpg", tmp_path / "yard" / "truck" / f"{number}.jpg")
    shutil.copyfile(SAMPLES / "refuse.jpg", tmp_path / "yard" / "1.jpg")
    out = tmp_path / "yard" / "out"
    for kept in ("", "2 kept"):
        assert kept in run(tmp_path / "yard", "--out", out, "--pictures")[1]
        assert {path.name for path in out.glob("*.jpg")} == {"1-height.jpg", "truck-height-1.jpg", "truck-height-2.jpg"}
        assert set(table(out)) == {"1", "truck"}
    with pytest.raises(InputError, match="among the photographs"):
        run(tmp_path / "yard", "--out", tmp_path / "yard", "--pictures")


def test_a_level_that_was_read_contradicts_ground_that_is_not_known(tmp_path: Path) -> None:
    rigs = listed(tmp_path, row("truck 2", "within"), row("van", "above").replace(",yes,", ",no,"))
    with pytest.raises(InputError, match=r"rigs.csv, line 3: ground not known .* contradict"):
        run(rigs, "--out", tmp_path / "out", "--level-within", "5")


@pytest.mark.usefixtures("in_this_process")
def test_run_again_it_keeps_what_could_only_come_out_the_same(tmp_path: Path) -> None:
    shutil.copyfile(SAMPLES / "within.jpg", tmp_path / "van.jpg")
    van = row("van", "within").replace(str(SAMPLES / "within.jpg"), str(tmp_path / "van.jpg"))
    rigs, out = listed(tmp_path, row("truck 2", "within"), van), tmp_path / "out"
    assert run(rigs, "--out", out)[0] == 0
    before, rows = content(out / "van.json"), table(out)
    made = {name: (out / name).stat().st_mtime_ns for name in ("truck 2.json", "van.json")}
    code, output = run(rigs, "--out", out)
    assert code == 0 and "2 kept" in output and table(out) == rows
    assert made == {name: (out / name).stat().st_mtime_ns for name in made}
    with (tmp_path / "van.jpg").open("ab") as stream:
        stream.write(b"\0")  # another file, the same picture
    listed(tmp_path, row("truck 2", "within", "403"), van)  # another option
    code, output = run(rigs, "--out", out)
    assert code == 0 and "kept from" not in output
    assert content(out / "van.json")["photos"] != before["photos"]
    assert content(out / "truck 2.json")["tape"]["reading_mm"] == 403.0


@pytest.mark.usefixtures("in_this_process")
def test_another_class_of_tape_is_another_record(tmp_path: Path) -> None:
    out, records = tmp_path / "out", []
    for tape_class in ("", "III"):
        rigs = tmp_path / "rigs.csv"
        rigs.write_text(
            HEADER.replace("\n", ",tape_class\n") + row("van", "within", "402").replace("\n", f",{tape_class}\n")
        )
        assert run(rigs, "--out", out)[0] == 0
        records.append(content(out / "van.json")["tape"])
    assert [tape["tape_class"] for tape in records] == ["II", "III"]
    assert records[1]["u_mm"] > records[0]["u_mm"] and records[1]["difference_mm"] == records[0]["difference_mm"]


@pytest.mark.usefixtures("in_this_process")
def test_a_folder_with_common_options(tmp_path: Path) -> None:
    (tmp_path / "yard" / "blurred").mkdir(parents=True)
    shutil.copyfile(SAMPLES / "refuse.jpg", tmp_path / "yard" / "blurred" / "1.jpg")
    code, output = run(
        tmp_path / "yard", "--out", tmp_path / "yard" / "out", "--bar-x", 149.5, "--coupled", "--rule", "dk"
    )
    asked = read_record(tmp_path / "yard" / "out" / "blurred.json").asked
    assert code == 3 and "blurred: 1.jpg" in output and "Each folder is one rig" in output
    assert asked is not None
    assert (asked.bar_x_mm, asked.coupled, asked.rule["name"]) == (149.5, True, "dk")


@pytest.mark.parametrize(
    "wrong",
    [["--jobs", "0"], ["--bar-x", "15"], ["--rule", "nowhere"], ["--ball-diameter", "500"], ["--camera", "nowhere.json"],
     ["--bay", "nowhere.json"], ["--decision", "strict"], ["--decision", "guarded=9"], ["--level-within", "-1"], ["--level-within", "nan"]],
)  # fmt: skip
def test_wrong_usage_says_what_was_expected(wrong: list[str], tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        run(listed(tmp_path, row("truck 2", "within")), "--out", tmp_path / "out", *wrong)
    assert "Expected:" in str(caught.value) and not (tmp_path / "out").exists()


def some_tasks(tmp_path: Path, count: int) -> list[Task]:
    for number in range(count):
        shutil.copyfile(SAMPLES / "refuse.jpg", tmp_path / f"rig {number:02d}.jpg")
    return tasks_of(rigs_in(tmp_path).rigs, Stated(), tmp_path / "out")


@pytest.mark.usefixtures("in_this_process")
def test_records_of_rigs_that_are_gone_are_named(tmp_path: Path) -> None:
    yard, out = tmp_path / "yard", tmp_path / "out"
    yard.mkdir()
    for name in ("van", "truck"):
        shutil.copyfile(SAMPLES / "refuse.jpg", yard / f"{name}.jpg")
    assert "not in this run" not in run(yard, "--out", out)[1]
    (out / "bay.json").write_text('{"schema": "photomeasure/bay/1"}', encoding="utf-8")
    (yard / "van.jpg").unlink()
    output = run(yard, "--out", out)[1]
    assert "Records of rigs that are not in this run" in output and "- van.json" in output
    assert "- truck.json" not in output and "- bay.json" not in output


def test_a_file_where_the_folder_should_be_is_told_before_any_measuring(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    for out in (tmp_path / "out", tmp_path / "out" / "deeper"):
        with pytest.raises(InputError, match="out is a file, not a folder"):
            run(listed(tmp_path, row("truck 2", "within")), "--out", out)
    with pytest.raises(InputError, match="out is a file, not a folder"):
        write_atomic(tmp_path / "out" / "record.json", "{}")


def test_ctrl_c_keeps_what_is_finished(tmp_path: Path) -> None:
    tasks, seen = some_tasks(tmp_path, 12), []

    def finished(done: Done) -> None:
        seen.append(done)
        raise KeyboardInterrupt

    batch = run_tasks(tasks, 1, finished)
    kept = [done for done in batch.done if done is not None]
    assert batch.interrupted and len(seen) == 1 and 1 <= len(kept) < 12
    assert {done.row.rig for done in kept} == {path.stem for path in (tmp_path / "out").iterdir()}


def test_a_process_that_dies_leaves_rows_that_say_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run_module, "_work", dies)
    batch = run_tasks(some_tasks(tmp_path, 1), 1, lambda done: None)
    assert not batch.interrupted
    (done,) = batch.done
    assert done is not None and "fewer --jobs" in done.row.error
