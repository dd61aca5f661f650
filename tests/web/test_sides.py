"""The same rig coupled, and how level a trailer stands: as a fitter does both on a phone."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from calib.kit.sheets import write_target
from tests.scenes import printed_kit
from tests.side_scenes import SideScene, draw_side_scene
from tests.web.sending import SAMPLES, TOKEN

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
from tests.web.browser import CHROMIUM, browsing, phone, pocketed, served  # noqa: E402

in_browser = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine: apt-get install chromium")


@pytest.fixture(scope="module")
def page() -> Iterator[Any]:
    with (
        served() as address,
        browsing() as browser,
        pocketed(browser, address) as pocket,
        phone(pocket, address) as opened,
    ):
        yield opened


@pytest.fixture(scope="module")
def side(tmp_path_factory: pytest.TempPathFactory) -> tuple[SideScene, Path]:
    place = tmp_path_factory.mktemp("side")
    kit = printed_kit(*write_target(place, "a4"))
    rng = np.random.default_rng(20261127)
    scene = draw_side_scene(
        rng, kit=kit, size_px=(1600, 1200), distance_mm=(4000.0, 4000.0), pitch_deg=(-2.5, -1.5), bare=True
    )
    return scene, scene.save(place / "side.jpg", rng)


def tapped(page: Any, field: str, value: str) -> None:
    page.locator(f"label:has([name={field}][value='{value}'])").tap()


@in_browser
def test_bare_ball_then_coupled(page: Any) -> None:
    truth = {name: tomllib.loads((SAMPLES / f"pair-{name}.toml").read_text()) for name in ("before", "after")}
    page.set_input_files("#photos", [SAMPLES / "pair-before.jpg"])
    for field, value in (("coupled", "no"), ("laden", "no"), ("level_ground", "yes")):
        tapped(page, field, value)
    for axis in "xy":
        page.fill(f"#bar_{axis}", str(truth["before"][f"bar_{axis}_mm"]))
    page.locator("button.primary").tap()
    page.wait_for_selector("#coupled", timeout=120_000)
    page.locator("#coupled").tap()
    page.wait_for_selector("input[name=earlier]", state="attached")
    page.set_input_files("#photos", [SAMPLES / "pair-after.jpg"])
    tapped(page, "sheet_untouched", "yes")
    tapped(page, "laden", "yes")
    page.locator("button.primary").tap()
    page.wait_for_selector(".figure .height", timeout=120_000)
    shown = float(page.locator(".figure .height").inner_text().split()[0])
    assert abs(shown - truth["after"]["height_mm"]) <= 3.0
    with page.expect_download() as taken:
        page.locator("text=Record (JSON)").tap()
    record = json.loads(Path(taken.value.path()).read_text())
    assert record["centre"]["source"] == "carried" and record["carried"]["record"] == "pair-before.json"
    sank = truth["before"]["height_mm"] - truth["after"]["height_mm"]
    assert abs(record["sink"]["mm"] - sank) <= 2.0 * record["sink"]["u_mm"] < 2.0
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@in_browser
def test_four_touches_tell_how_level_it_stands(page: Any, side: tuple[SideScene, Path]) -> None:
    scene, photo = side
    page.goto(page.url.split("/rig/")[0].rstrip("/") + "/level")
    page.set_input_files("#photos", [photo])
    tapped(page, "level_ground", "yes")
    for axis, mm in zip("xy", scene.bars_mm, strict=True):
        page.fill(f"#bar_{axis}", f"{mm:g}")
    page.fill("#nose_down", "3")
    page.locator("button.primary").tap()
    page.wait_for_selector(".picker canvas")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.locator(".picker").count() == 4
    front = 0 if scene.nose == "left" else 1
    order = [np.argsort(px[:, 0])[:: 1 if front == 0 else -1] for px in (scene.ground_px, scene.rail_px)]
    points = [*scene.ground_px[order[0]], *scene.rail_px[order[1]]]
    for number, (x, y) in enumerate(points, start=1):
        page.locator(f"[data-show='{number}']").tap()
        box = page.locator(f".picker[data-number='{number}'] .stage canvas").first.bounding_box()
        page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)  # a touch leaves a mark ...
        page.wait_for_function(f"document.querySelector('#x{number}').value !== ''")
        for axis, value in zip("xy", (x, y), strict=True):  # ... which is then moved to the very pixel
            page.evaluate(
                """([field, value]) => {
                  const typed = document.querySelector(field);
                  typed.value = value;
                  typed.dispatchEvent(new Event("input", { bubbles: true }));
                }""",
                [f"#{axis}{number}", f"{value:.1f}"],
            )
    page.locator("button.primary").tap()
    page.wait_for_selector("#nose", timeout=120_000)
    nose_up_deg = scene.pitch_deg if scene.nose == "right" else -scene.pitch_deg
    assert page.locator("#nose").inner_text().startswith("NOSE-UP" if nose_up_deg > 0 else "NOSE-DOWN")
    assert abs(float(page.locator(".figure .height").inner_text().split()[0]) - abs(nose_up_deg)) <= 0.5
    assert "3 degrees nose-down to 0 nose-up (as typed)" in page.locator("dl.facts").inner_text()
    assert page.locator(".pictures img").evaluate("img => img.naturalWidth") > 500
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_what_is_not_there_is_said(client: TestClient) -> None:
    assert client.get(f"/{TOKEN}/rig/nobody/level").status_code == 404
    assert client.get(f"/{TOKEN}/rig/nobody/coupled").status_code == 404
    assert (
        client.post(f"/{TOKEN}/measure", data={"earlier": "nobody"}, files={"photos": ("a.jpg", b"x")}).status_code
        == 404
    )
    assert client.get(f"/{TOKEN}/level").status_code == 200


def test_touches_that_are_missing_are_told_each_in_its_place(client: TestClient, side: tuple[SideScene, Path]) -> None:
    photo = {"photos": ("side.jpg", side[1].read_bytes())}
    sent = client.post(f"/{TOKEN}/measure", data={"level": "first"}, files=photo)
    assert sent.url.path.endswith("/level")
    typed = {"x1": "100", "y1": "900", "x3": "100", "y3": "no number", "nose_down": "80"}
    page = client.post(str(sent.url), data=typed)
    assert page.status_code == 400
    for mistake in ("mark2-mistake", "mark3-mistake", "mark4-mistake", "nose_down-mistake"):
        assert mistake in page.text
    assert "mark1-mistake" not in page.text and 'value="no number"' in page.text
