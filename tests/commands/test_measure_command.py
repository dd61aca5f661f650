"""`photomeasure measure` from the outside: contract of options, exit codes and JSON keys, on rendered pictures with truth."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calib.kit.sheets import write_target
from calib.outcome.errors import InputError
from photomeasure.asked.state import State
from photomeasure.record.schema import Record, read_record
from photomeasure.rules.load import default_rule, load_rule
from photomeasure.schemas.made import schema_of
from photomeasure.shown.terminal import plain
from photomeasure.verdict.judge import judge
from tests.running import runs
from tests.sample_requests import SAMPLES, sample_request
from tests.scenes import Scene, draw_rig_scene, printed_kit, render, save_jpeg
from tests.shared_data import folder

CONTRACT_KEYS = {
    "schema", "height_mm", "u_mm", "U_mm", "coverage", "interval_mm", "verdict", "p_inside", "indicative", "rule", "advice",
    "warnings", "budget", "centre", "camera", "ambiguity", "refusal", "photos", "version",
}  # fmt: skip
VERDICTS = {"within", "above", "below", "undecided", "no-band", "refused"}


class Pictured:
    """A rendered rig: its photograph, and what is true of it."""

    def __init__(self, scene: Scene, path: Path) -> None:
        truth = scene.truth
        assert truth is not None
        self.path, self.height_mm, self.nuisance = path, truth.height_mm, truth.nuisance
        x, y = scene.centre_px().ravel()
        self.centre = f"{x:.1f},{y:.1f}"
        self.bars = ["--bar-x", str(truth.nuisance["bar_x_mm"]), "--bar-y", str(truth.nuisance["bar_y_mm"])]


@pytest.fixture(scope="module")
def pictured(tmp_path_factory: pytest.TempPathFactory) -> Pictured:
    place = tmp_path_factory.mktemp("rig")
    kit = printed_kit(*write_target(place, "a4"))
    rng = np.random.default_rng(20261125)
    scene = draw_rig_scene(rng, condition="followed", kit=kit, size_px=(2000, 1500))
    path = place / "rig.jpg"
    save_jpeg(render(scene, None, rng), path, scene.look.jpeg_quality, scene.exif)
    return Pictured(scene, path)


run = runs()


def measured(pictured: Pictured, *more: object, place: Path) -> dict[str, Any]:
    target = place / "record.json"
    code, _ = run("measure", pictured.path, "--centre", pictured.centre, *pictured.bars, "--json", target, *more)
    assert code == 0
    record: dict[str, Any] = json.loads(target.read_text())
    return record


def test_record_by_contract_and_true(pictured: Pictured, tmp_path: Path) -> None:
    record = measured(pictured, "--level-ground", "--coupled", "--laden", place=tmp_path)
    assert record.keys() >= CONTRACT_KEYS
    assert record["verdict"] in VERDICTS
    assert abs(record["height_mm"] - pictured.height_mm) <= 3.0 * record["u_mm"]
    assert record["interval_mm"] == pytest.approx(
        [record["height_mm"] - record["U_mm"], record["height_mm"] + record["U_mm"]]
    )
    assert sum(row["share"] for row in record["budget"]) == pytest.approx(1.0, abs=1e-9)
    assert sum(row["u_mm"] ** 2 for row in record["budget"]) == pytest.approx(record["u_mm"] ** 2, rel=1e-9)
    assert sum(row["height_u_mm"] ** 2 for row in record["inputs"]) == pytest.approx(record["u_mm"] ** 2, rel=1e-9)
    assert record["refusal"] is None
    assert all("bare ball is in plain sight" in why for why in record["indicative_why"])  # on a rig said to be coupled
    assert record["centre"]["source"] == "pick"
    assert len(record["photos"][0]["sha256"]) == 64


def test_record_is_read_again_and_has_a_schema(pictured: Pictured, tmp_path: Path) -> None:
    import jsonschema  # type: ignore[import-untyped, unused-ignore]

    record = measured(pictured, place=tmp_path)
    jsonschema.validate(record, schema_of("record"))
    again = read_record(tmp_path / "record.json")
    assert isinstance(again, Record) and again.height_mm == record["height_mm"]


def test_state_that_was_not_said_makes_it_indicative(pictured: Pictured, tmp_path: Path) -> None:
    record = measured(pictured, place=tmp_path)
    assert record["indicative"] and record["indicative_why"]


def test_pin_has_no_band(pictured: Pictured, tmp_path: Path) -> None:
    """Common practice, no source: pin couplings have no such band."""
    record = measured(pictured, "--coupling", "pin", place=tmp_path)
    assert record["verdict"] == "no-band" and record["p_inside"] is None


def test_unmeasured_bars_widen_the_interval_and_are_warned_of(pictured: Pictured, tmp_path: Path) -> None:
    known = measured(pictured, "--level-ground", place=tmp_path)
    target = tmp_path / "unknown.json"
    run("measure", pictured.path, "--centre", pictured.centre, "--level-ground", "--json", target)
    unknown = json.loads(target.read_text())
    assert unknown["U_mm"] > 3.0 * known["U_mm"]
    assert any("check bars" in warning for warning in unknown["warnings"])
    assert any("check bars" in sentence for sentence in unknown["coach"])


def test_tape_is_kept_and_compared(pictured: Pictured, tmp_path: Path) -> None:
    near = measured(pictured, "--tape", round(pictured.height_mm), place=tmp_path)
    assert near["tape"]["agrees"] and near["tape"]["reading_mm"] == round(pictured.height_mm)
    far = measured(pictured, "--tape", round(pictured.height_mm) + 40, place=tmp_path)
    assert not far["tape"]["agrees"] and far["height_mm"] == near["height_mm"]
    assert near["tape"]["tape_class"] == "II"
    finer = measured(pictured, "--tape", round(pictured.height_mm), "--tape-class", "I", place=tmp_path)
    assert finer["tape"]["tape_class"] == "I" and finer["tape"]["u_mm"] < near["tape"]["u_mm"]


def test_out_holds_the_record_and_a_picture(pictured: Pictured, tmp_path: Path) -> None:
    _, output = run("measure", pictured.path, "--centre", pictured.centre, *pictured.bars, "--out", tmp_path / "out")
    written = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"rig.json", "rig-height.jpg", "rig-report.pdf"} <= written
    said = output.split("Written: ")[1]
    assert all(name in said for name in written)


def test_monte_carlo_stands_beside_the_first_order(pictured: Pictured, tmp_path: Path) -> None:
    record = measured(pictured, "--monte-carlo", place=tmp_path)
    assert record["monte_carlo"]["trials"] >= 10_000  # JCGM 101:2008 7.9.4 b
    assert record["monte_carlo"]["u_mm"] == pytest.approx(
        record["budget"][0]["u_mm"] / record["budget"][0]["share"] ** 0.5, rel=0.2
    )


def own_rule(place: Path, low_mm: float, high_mm: float) -> Path:
    """A rule file of a person's own, with the default decision rule (guarded by U)."""
    path = place / "own.toml"
    path.write_text(
        'schema = "photomeasure/rule/1"\nname = "own"\ntitle = "Ferncombe yard (invented)"\njurisdiction = "invented"\n'
        'couplings = ["ball-50"]\nsource = "invented"\nedition = "1"\nconfidence = "common-practice"\n'
        f"[[bands]]\nlow_mm = {low_mm:.3f}\nhigh_mm = {high_mm:.3f}\n"
    )
    return path


def test_the_decision_rule_typed_stands_above_the_rules_own(pictured: Pictured, tmp_path: Path) -> None:
    """The band's lower end 1.2 u under the figure: by simple acceptance inside, guarded by U = 2 u undecided; the
    probability of being outside is 1 - Phi(1.2) = 0.115 (tables of the normal distribution)."""
    plain = measured(pictured, place=tmp_path)
    low_mm = plain["height_mm"] - 1.2 * plain["u_mm"]
    rule = own_rule(tmp_path, low_mm, low_mm + 200.0)

    def decided(*decision: str) -> tuple[str, str, float | None, str]:
        record = measured(pictured, "--rule", rule, *decision, place=tmp_path)
        said = record["rule"]
        return record["verdict"], said["decision_kind"], said["decision_number"], said["decision_from"]

    assert decided() == ("undecided", "guarded", 1.0, "rule")
    assert decided("--decision", "simple") == ("within", "simple", None, "user")
    assert decided("--decision", "guarded=0.55") == ("within", "guarded", 0.55, "user")
    assert decided("--decision", "max-false-acceptance=0.12") == ("within", "max-false-acceptance", 0.12, "user")
    assert decided("--decision", "max-false-acceptance=0.11")[0] == "undecided"


def test_level_control_answers_the_rule_that_asks_for_it(pictured: Pictured, tmp_path: Path) -> None:
    """Denmark's unladen bands: 400-500 without, 350-450 with level control (Detailforskrifter for køretøjer 9.05.310)."""

    def said(*options: str) -> tuple[Any, ...]:
        record = measured(pictured, "--rule", "dk", "--unladen", "--level-ground", *options, place=tmp_path)
        return (
            *(record["rule"][end] for end in ("low_mm", "high_mm")),
            record["indicative"],
            record["state"]["level_control"],
        )

    assert said() == (400, 500, True, None)
    assert said("--no-level-control") == (400, 500, False, False)
    assert said("--level-control") == (350, 450, False, True)


def test_what_is_to_know_of_the_rule_stands_beside_the_verdict(pictured: Pictured, tmp_path: Path) -> None:
    record = measured(pictured, "--rule", "au-ball-50", place=tmp_path)
    rule = load_rule("au-ball-50")
    assert record["rule"]["notes"] == [rule.bands[0].note, *rule.notes]
    assert record["rule"]["contradictions"] == [other.text for other in rule.contradictions]
    text = plain(Record.model_validate(record))
    assert all(note in text for note in [*record["rule"]["notes"], *record["rule"]["contradictions"]])


def test_a_level_read_says_how_even_the_ground_is(pictured: Pictured, tmp_path: Path) -> None:
    """Slopes within X mm a metre of level differ by a triangle of 2 X: u = X sqrt(2/3) (JCGM 101:2008 6.4.5), beside texture.

    An even slope does nothing, so that what a level says beyond the usual evenness of a rough yard says nothing.
    """

    def ground(*said: str) -> dict[str, Any]:
        record = measured(pictured, *said, place=tmp_path)
        rows = {row["quantity"]: row for row in record["inputs"]}
        assert rows["ground"]["u"] == pytest.approx(1.0)  # nobody said that it is hard and flat
        slope: dict[str, Any] = rows["ground evenness"]
        assert abs(slope["height_u_mm"]) == pytest.approx(slope["u"], rel=1e-6)  # it goes into the height as it is
        return slope

    assert ground("--level-within", "0")["u"] < 0.01
    two, four, fifty, unread = (
        ground(*said) for said in (("--level-within", "2"), ("--level-within", "4"), ("--level-within", "50"), ())
    )
    assert four["u"] == pytest.approx(2.0 * two["u"])
    distance_mm = float(two["source"].split(" over ")[1].split(" mm")[0])
    assert two["u"] == pytest.approx(2.0 / 1000.0 * (2.0 / 3.0) ** 0.5 * distance_mm, abs=0.002)
    assert "a level read" in two["source"] and fifty["u"] == unread["u"]
    record = measured(pictured, "--level-within", "5", place=tmp_path)
    assert record["state"]["level_within_mm_per_m"] == 5.0
    assert not any("not said to be hard and flat" in warning for warning in record["warnings"])


def test_every_input_is_a_row_to_defend(pictured: Pictured, tmp_path: Path) -> None:
    """Name, value, u in the quantity's own unit, distribution, type A or B (JCGM 100:2008 4.2, 4.3) and source."""
    record = measured(pictured, "--level-ground", place=tmp_path)
    rows = {row["quantity"]: row for row in record["inputs"]}
    assert len(rows) == len(record["inputs"])  # no two of one name
    assert {row["distribution"] for row in rows.values()} <= {"normal", "curvilinear trapezoid", "exponential"}
    assert all(row["evaluation"] in ("A", "B") and len(row["source"]) > 10 and row["u"] > 0.0 for row in rows.values())
    assert {row["unit"] for row in rows.values()} <= {"px", "mm", "rad", "1"}
    focal = rows["focal length"]
    assert focal["unit"] == "px" and 0.5 * 2000 < focal["value"] < 2.0 * 2000 and focal["u"] < 0.1 * focal["value"]
    assert rows["principal point, across"]["value"] == pytest.approx((2000 - 1) / 2)
    assert rows["principal point, down"]["value"] == pytest.approx((1500 - 1) / 2)
    assert {"distortion k1", "distortion k2", "corner noise", "pick", "depth", "foot gap"} <= rows.keys()
    of_budget = {row["quantity"] for row in record["budget"]}
    assert all(any(name.startswith(quantity) for name in rows) for quantity in of_budget)


def test_the_factor_is_told(pictured: Pictured, tmp_path: Path) -> None:
    record = measured(pictured, place=tmp_path)
    assert record["U_mm"] == pytest.approx(record["coverage_factor"] * record["u_mm"])
    assert record["coverage_sentence"].startswith("k = ")


def test_no_kit_is_refused_with_reason_and_remedy(tmp_path: Path) -> None:
    """Road photographs without a target (udacity/CarND-Advanced-Lane-Lines, MIT): never measured."""
    for photo in sorted((folder("no-target")).glob("*.jpg")):
        target = tmp_path / f"{photo.stem}.json"
        code, output = run("measure", photo, "--json", target)
        record = json.loads(target.read_text())
        assert code == 3
        assert record["verdict"] == "refused" and record["height_mm"] is None
        assert record["refusal"]["code"] == "no-sheet" and record["refusal"]["remedy"]
        assert "Why" in output and "Next" in output


def test_truncated_file_is_never_measured(pictured: Pictured, tmp_path: Path) -> None:
    data = pictured.path.read_bytes()
    for share in (0.3, 0.9, 0.999):
        cut = tmp_path / "cut.jpg"
        cut.write_bytes(data[: int(len(data) * share)])
        code, output = run("measure", cut, "--centre", pictured.centre)
        assert code == 3 and "damaged" in output


def test_contradicting_photographs_are_refused() -> None:
    """Photographs of one rig, its centre marked 60 pixels too high in the second; a copy of the first would count once."""
    (x, y), (x_2, y_2) = (px for px in sample_request("set").centres_px[:2] if px is not None)
    photos = [SAMPLES / f"set-{number}.jpg" for number in (1, 2)]
    marks = ("--centre", f"{x},{y}", "--centre", f"{x_2},{y_2 - 60.0}")
    code, output = run("measure", *photos, *marks, "--bar-x", 150, "--bar-y", 150)
    assert code == 3 and "contradict" in output


def test_a_shrunk_picture_is_refused_as_too_small(pictured: Pictured, tmp_path: Path) -> None:
    from PIL import Image

    small = tmp_path / "small.jpg"
    Image.open(pictured.path).resize((360, 270)).save(small)
    code, _ = run("measure", small, "--centre", "100,100")
    assert code == 3


@pytest.mark.parametrize(
    "wrong",
    [
        ["--centre", "12"],
        ["--centre", "a,b"],
        ["--centre", "nan,12"],
        ["--centre", "3,inf"],
        ["--bar-x", "15"],
        ["--rule", "nowhere"],
        ["--ball-diameter", "500"],
        ["--tape", "4"],
        ["--tape", "412", "--tape-class", "IV"],
        ["--decision", "strict"],
        ["--decision", "guarded=9"],
        ["--level-within", "-1"],
        ["--level-within", "nan"],
        ["--level-within", "5", "--unknown-ground"],
        ["--centre", "1,1", "--centre", "2,2"],
    ],
)
def test_wrong_usage_says_what_was_expected(pictured: Pictured, wrong: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        run("measure", pictured.path, *wrong)
    assert "Expected:" in str(caught.value) and "Next:" in str(caught.value)


def test_a_missing_file_is_wrong_usage() -> None:
    with pytest.raises(InputError, match="Cannot open"):
        run("measure", "no-such-photograph.jpg")


def test_the_bands_ends_are_inside() -> None:
    """Common practice, no source: 350 and 460 mm are inside, 670 mm is 210 mm above."""
    rule, state = default_rule("ball-50"), State(coupled=True, laden=True, level_ground=True)
    assert judge(350.0, 0.0, rule, state, "ball-50").verdict == "within"
    assert judge(460.0, 0.0, rule, state, "ball-50").verdict == "within"
    high = judge(670.0, 0.0, rule, state, "ball-50")
    assert high.verdict == "above" and high.adjustment is not None
    assert high.adjustment.least_down_mm == pytest.approx(210.0)
    assert not load_rule("au-pin").bands
