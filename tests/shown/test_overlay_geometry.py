"""What is drawn over a photograph lies where OpenCV's own projection puts it, and labels keep off the coupling.

Sources: cv2.projectPoints (OpenCV), independent of the project's camera model; contrast ratios by the formula of
W3C WCAG 2.1, success criterion 1.4.3 (from memory: 4.5 for text, 3 for large text).
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from calib.drawing.colours import INK
from calib.words.language import LANGUAGES, Language, speaking
from photomeasure.record.schema import Record, RulePart, StatePart, VerdictWord
from photomeasure.seen.image import Photo, decode
from photomeasure.shown.look import BADGES, SIGNS, mixed
from photomeasure.shown.picture import ink as drawn_by
from photomeasure.shown.picture.caption import BACKGROUND, _rgba, head
from photomeasure.shown.picture.geometry import BAND_HALF_WIDTH_MM, Eye, Heights, marks
from photomeasure.shown.picture.ink import BAND, PLATE, RULE, WHITE, Ink, font
from photomeasure.shown.picture.labels import END, FIGURE, UNCERTAINTY, lay_out
from photomeasure.shown.picture.placing import FORBIDDEN, Obstacle, overlap, place
from photomeasure.shown.picture.ruler import ticks
from photomeasure.shown.picture.window import LONG_SIDE_PX, choose, colours_for, cut

Array = NDArray[np.float64]
SIZE = (4000, 3000)
INTRINSICS = np.array([3010.0, 3012.0, 2011.0, 1489.0, 0.06, -0.05, 4e-4, -3e-4, 0.01])
LENS, TARGET = np.array([420.0, -1900.0, 820.0]), np.array([30.0, 0.0, 260.0])


def eye(lens: Array = LENS, target: Array = TARGET) -> Eye:
    """A camera that looks at a point, upright; built here from cross products, not by the project's code."""
    forward = (target - lens) / np.linalg.norm(target - lens)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(forward, right), forward])
    return Eye(intrinsics=INTRINSICS, cam_from_world=rotation, world_in_cam_mm=-rotation @ lens, size_px=SIZE)


def reference_px(camera: Eye, points: Array) -> Array:
    turn, _ = cv2.Rodrigues(camera.cam_from_world)
    matrix = np.array([[INTRINSICS[0], 0, INTRINSICS[2]], [0, INTRINSICS[1], INTRINSICS[3]], [0, 0, 1.0]])
    px, _ = cv2.projectPoints(points.reshape(-1, 1, 3), turn, camera.world_in_cam_mm, matrix, INTRINSICS[4:])
    return np.asarray(px, dtype=np.float64).reshape(-1, 2)


def heights(
    centre: tuple[float, float, float] = (60.0, 12.0, 418.0),
    base: float = 3.0,
    band: tuple[float | None, float | None] | None = (350.0, 460.0),
) -> Heights:
    return Heights(
        centre_mm=np.array(centre),
        base_z_mm=base,
        interval_mm=(centre[2] - base - 2.0, centre[2] - base + 2.0),
        band_mm=band,
    )


def record(low: float | None = 350.0, high: float | None = 460.0) -> Record:
    rule = RulePart(name="r", title="Ferncombe yard's own band (invented)", low_mm=low, high_mm=high, source="invented",
                    edition="1", confidence="computed", decision="guarded", guard_band_mm=2.0)  # fmt: skip
    return Record(
        version="0", computed="2026-01-02T03:04:05+00:00", height_mm=415.0, u_mm=1.0, U_mm=2.0,
        interval_mm=(413.0, 417.0), verdict="within", sentence="Within the band", rule=rule,
        state=StatePart(coupling="ball-50", coupled=True, laden=True, level_ground=True),
    )  # fmt: skip


def test_height_line_runs_from_the_ground_under_the_centre_to_the_centre() -> None:
    camera, shown = eye(), heights()
    drawn = marks(camera, shown)
    ends = reference_px(camera, np.array([[60.0, 12.0, 3.0], [60.0, 12.0, 418.0]]))
    np.testing.assert_allclose(drawn.height_px[[0, -1]], ends, atol=1e-6)
    assert drawn.centre_px is not None
    np.testing.assert_allclose(drawn.centre_px, ends[1], atol=1e-6)


def test_band_ends_are_heights_above_the_ground_in_the_couplings_plane() -> None:
    camera, shown = eye(), heights()
    drawn = marks(camera, shown)
    x = np.array([60.0 - BAND_HALF_WIDTH_MM, 60.0 + BAND_HALF_WIDTH_MM])
    for line, height in zip(drawn.band_ends_px, (350.0, 460.0), strict=True):
        world = np.array([[value, 12.0, 3.0 + height] for value in x])
        np.testing.assert_allclose(line[[0, -1]], reference_px(camera, world), atol=1e-6)
    corners = reference_px(camera, np.array([[x[0], 12.0, 353.0], [x[1], 12.0, 463.0]]))
    np.testing.assert_allclose(drawn.band_px[0], corners[0], atol=1e-6)
    np.testing.assert_allclose(drawn.band_px[len(drawn.band_px) // 2], corners[1], atol=1e-6)


def test_a_straight_edge_is_bent_as_the_lens_bends_it() -> None:
    camera = eye()
    drawn = marks(camera, heights())
    share = np.linspace(0.0, 1.0, len(drawn.ground_px))
    world = np.stack([-620.0 + share * (60.0 + 620.0 + 620.0), 0 * share, 0 * share], axis=1)
    np.testing.assert_allclose(drawn.ground_px, reference_px(camera, world), atol=1e-6)


def test_the_ring_clears_a_50_mm_ball() -> None:
    camera = eye()
    drawn = marks(camera, heights())
    angles = np.linspace(0, 2 * np.pi, 60)
    right, down = camera.cam_from_world[0], camera.cam_from_world[1]
    rim = np.array([60.0, 12.0, 418.0]) + 25.0 * (np.cos(angles)[:, None] * right + np.sin(angles)[:, None] * down)
    assert drawn.centre_px is not None
    assert np.linalg.norm(reference_px(camera, rim) - drawn.centre_px, axis=1).max() < drawn.ring_px


@pytest.mark.parametrize(("band", "empty"), [((350.0, None), 1), ((None, 460.0), 0)])
def test_an_open_band_has_one_end(band: tuple[float | None, float | None], empty: int) -> None:
    drawn = marks(eye(), heights(band=band))
    assert len(drawn.band_ends_px[empty]) == 0 and len(drawn.band_ends_px[1 - empty]) > 2
    assert len(drawn.band_px) > 4


def test_no_band_no_strip() -> None:
    drawn = marks(eye(), heights(band=None))
    assert len(drawn.band_px) == 0 and all(len(end) == 0 for end in drawn.band_ends_px)
    assert lay_out(record(None, None), drawn, choose(SIZE, drawn.interest_px())).ends == ()


def test_a_coupling_behind_the_lens_draws_nothing_and_fails_nowhere() -> None:
    drawn = marks(eye(target=np.array([420.0, -5000.0, 820.0])), heights())
    assert drawn.centre_px is None and len(drawn.height_px) == 0
    layout = lay_out(record(), drawn, choose(SIZE, drawn.interest_px()))
    assert layout.coupling is None and layout.figure is None and layout.ends == ()


def test_a_lens_that_looks_along_the_foot_line_gets_a_strip_that_it_can_see() -> None:
    drawn = marks(eye(lens=np.array([-1900.0, 100.0, 500.0]), target=np.array([60.0, 12.0, 300.0])), heights())
    assert np.ptp(drawn.band_px[:, 0]) > 0.5 * INTRINSICS[0] * 500 / 2000


# -- window ----------------------------------------------------------------------------------------------------------

boxes = st.tuples(st.floats(-300, 4200), st.floats(-300, 3200), st.floats(2, 2500), st.floats(2, 2500))


@given(box=boxes)
def test_a_window_stays_in_the_frame_and_keeps_what_matters(box: tuple[float, float, float, float]) -> None:
    x, y, wide, high = box
    interest = np.array([[x, y], [x + wide, y + high]])
    window = choose(SIZE, interest)
    low = np.array([window.left_px, window.top_px])
    part = np.array(window.size) / window.scale
    assert (low >= -0.5 - 1e-6).all() and (low + part <= np.array(SIZE) - 0.5 + 1.0).all()
    assert max(window.size) == LONG_SIDE_PX
    assert abs(window.size[0] / window.size[1] - SIZE[0] / SIZE[1]) < 0.01
    kept = np.clip(interest, -0.5, np.array(SIZE) - 0.5)
    drawn = window.at(kept)
    assert (drawn >= -1.0).all() and (drawn <= np.array(window.size) + 1.0).all()


def _photo_with_spot(size: tuple[int, int], spot: tuple[int, int]) -> Photo:
    """A grey picture with a soft white spot of known middle, as PNG."""
    y, x = np.indices((size[1], size[0]))
    bell = np.exp(-((x - spot[0]) ** 2 + (y - spot[1]) ** 2) / (2 * 8.0**2))
    done, data = cv2.imencode(".png", (60 + 190 * bell).astype(np.uint8))
    assert done
    photo = decode(Path("spot.png"), data.tobytes())
    assert isinstance(photo, Photo)
    return photo


@pytest.mark.parametrize("crop", [True, False])
@pytest.mark.parametrize("size", [(2600, 1950), (1500, 2000), (800, 600)])
def test_a_spot_is_shown_where_the_window_says(size: tuple[int, int], crop: bool) -> None:
    spot = (size[0] // 3, size[1] // 2)
    reach = 0.1 if crop else 0.5
    interest = np.array(spot) + np.array([[-1.0, -1.0], [1.0, 1.0]]) * reach * min(size)
    window = choose(size, interest)
    picture = cut(_photo_with_spot(size, spot), window)[:, :, 0].astype(np.float64) - 60
    assert picture.shape == (window.size[1], window.size[0])
    picture[picture < 20] = 0.0
    y, x = np.indices(picture.shape)
    seen = np.array([(x * picture).sum(), (y * picture).sum()]) / picture.sum() + 0.5  # pixel centres to edges
    np.testing.assert_allclose(seen, window.at(np.array(spot, dtype=np.float64)), atol=0.25)


@pytest.mark.parametrize("reach", [0.1, 0.5])
def test_colours_at_half_the_size_are_drawn_under_the_full_brightness(reach: float) -> None:
    """Against the drawing of the whole decoded picture: brightness as there, colours but for the edges between two."""
    size = (2400, 1800)
    y, x = np.indices((size[1], size[0]))
    painted = np.stack(
        [90 + 60 * np.sin(x / 300), 120 + 80 * np.cos(y / 250), 60 + 40 * np.sin((x + y) / 400)], axis=-1
    )
    painted[(x // 3 + y // 3) % 2 == 0] += 40.0  # fine detail in brightness alone
    done, data = cv2.imencode(".png", painted.astype(np.uint8))
    photo = decode(Path("colours.png"), data.tobytes())
    assert done and isinstance(photo, Photo)
    middle = np.array([1301.0, 903.0])
    window = choose(size, middle + np.array([[-1.0, -1.0], [1.0, 1.0]]) * reach * size[1])
    assert max(colours_for(photo, window).shape[:2]) == 1200
    shown, whole = (cut(photo, window, colours).astype(int) for colours in (None, photo.colour_at_least(2400)))
    brightness = np.array([0.299, 0.587, 0.114])
    assert np.abs((shown - whole) @ brightness).max() < 2.5
    assert np.abs(shown - whole).mean() < 2.0


# -- ink -------------------------------------------------------------------------------------------------------------


def test_tiles_leave_no_trace_and_nothing_is_drawn_beyond_the_drawing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same shapes drawn in one piece; a line that runs out of the drawing does not run into the strip below it."""

    def scribble() -> NDArray[np.int64]:
        ink = Ink((430, 410))
        ink.fill(np.array([[30.0, 40.0], [400.0, 60.0], [420.0, 300.0], [50.0, 380.0]]), (64, 196, 255, 84))
        ink.line(np.array([[10.0, 10.0], [215.0, 390.0], [215.0, 460.0]]), 5.0, RULE)
        ink.dashes(np.array([[0.0, 205.0], [430.0, 212.0]]), 3.0, WHITE, 20.0)
        ink.ring(np.array([200.0, 200.0]), 60.0, 4.0, RULE)
        ink.plate((150.0, 150.0, 330.0, 260.0), outline=BAND)
        return np.asarray(ink.onto(Image.new("RGB", (430, 500), (90, 90, 90)), 20), dtype=np.int64)

    tiled = scribble()
    monkeypatch.setattr(drawn_by, "_TILE_PX", 1000)
    whole = scribble()
    apart = np.abs(tiled - whole).max(
        axis=2
    )  # Pillow rounds a shape's corners to half pixels, towards its layer's corner
    assert apart.max() < 0.5 * 165 and (apart > 0).mean() < 0.003  # 165: of the ring's colour to the grey
    assert (tiled[:20] == 90).all() and (tiled[430:] == 90).all() and (tiled[20:430] != 90).any()


@pytest.mark.parametrize(
    "at", [(200.0, 320.0), (200.0, 399.0), (372.0, 100.0), (372.0, 330.0), (-40.0, 100.0), (200.0, -40.0)]
)
def test_what_lies_beside_the_drawing_draws_nothing(at: tuple[float, float]) -> None:
    """Within the last tiles, too, which reach over its edge: the ground just below a wide photograph's frame."""
    ink = Ink((350, 300))
    ink.ring(np.array(at), 10.0, 4.0, RULE)
    ink.line(np.array([at, (at[0] + 5.0, at[1] + 5.0)]), 4.0, RULE)
    assert (np.asarray(ink.onto(Image.new("RGB", (350, 300), (90, 90, 90)))) == 90).all()


@pytest.mark.parametrize("size_px", [(699, 525), (640, 479), (641, 481), (1600, 1200)])
def test_the_window_lies_in_the_photograph(size_px: tuple[int, int]) -> None:
    window = choose(size_px, np.array([[100.0, 100.0], [300.0, 300.0]]))
    low = np.array([window.left_px, window.top_px])
    assert (low >= -0.5).all() and (low + np.array(window.size) / window.scale <= np.array(size_px) + 0.5).all()


# -- labels ----------------------------------------------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(-400, 400),
    z=st.floats(260, 700),
    side=st.floats(-900, 900),
    up=st.floats(250, 1700),
    away=st.floats(900, 4000),
)
def test_no_label_covers_the_coupling_or_another_label(x: float, z: float, side: float, up: float, away: float) -> None:
    camera = eye(lens=np.array([side, -away, up]), target=np.array([0.0, 0.0, 250.0]))
    drawn = marks(camera, heights((x, 5.0, z), 0.0))
    window = choose(SIZE, drawn.interest_px())
    layout = lay_out(record(), drawn, window)
    labels = [box for _, box in layout.ends] + [box for box in (layout.figure, layout.ground) if box is not None]
    for i, box in enumerate(labels):
        assert box[0] >= 0 and box[1] >= 0 and box[2] <= window.size[0] and box[3] <= window.size[1]
        assert layout.coupling is None or overlap(box, layout.coupling) == 0.0
        assert all(overlap(box, other) == 0.0 for other in labels[i + 1 :])
    if drawn.centre_px is not None and len(drawn.height_px) > 2:
        assert layout.figure is not None


def test_place_refuses_a_full_room() -> None:
    room = (0.0, 0.0, 100.0, 100.0)
    assert place((20.0, 10.0), np.array([50.0, 50.0]), room, [Obstacle(box=room, cost=FORBIDDEN)]) is None
    assert place((200.0, 10.0), np.array([50.0, 50.0]), room, []) is None


def test_rulers_tick_at_round_pixels_inside_the_edge() -> None:
    np.testing.assert_array_equal(ticks(1290.5, 1640.0), np.arange(1400, 2801, 200))


# -- legibility ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "bold"), [(FIGURE, True), (UNCERTAINTY, False), (END, True)])
def test_key_figures_are_tall_enough_on_a_phone(share: float, bold: bool) -> None:
    """Digits of 2.2 % of the width: 1.5 mm on a screen 70 mm wide (common practice, no source)."""
    box = font(share * 1800, bold=bold).getbbox("0")
    assert (box[3] - box[1]) / 1800 >= 0.022


def _luminance(colour: tuple[int, ...]) -> float:
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour[:3]]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_texts_stand_out_from_their_plates() -> None:
    assert _contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)  # the formula's own end value, WCAG
    for ground, colour in BADGES.values():
        assert _contrast(_rgba(ground), _rgba(colour)) >= 4.5
        hatch = mixed(ground, (1.0, 1.0, 1.0), 0.3)  # the badge of what hangs on something: ink over strokes
        assert _contrast(_rgba(INK), _rgba(hatch)) >= 4.5
    for ink in (BAND, RULE, WHITE):
        assert _contrast(ink, PLATE) >= 4.5 and _contrast(ink, BACKGROUND) >= 4.5


def test_verdicts_differ_in_shape_not_only_in_colour() -> None:
    assert len(set(SIGNS.values())) == len(BADGES) == 7


def _drawn(ink: Ink) -> NDArray[np.int64]:
    """(h, w, 3) what is drawn, on a strip's own ground."""
    return np.asarray(ink.onto(Image.new("RGB", ink.size, BACKGROUND)), dtype=np.int64)


def _badge_of(**more: object) -> np.ndarray:
    """(h, w, 3) the strip above a picture, its badge alone."""
    return _drawn(head(record().model_copy(update=more), 1000))[22:98, 20:500]


def test_a_sure_badge_is_filled_and_one_with_an_if_is_not_also_in_black_and_white() -> None:
    """The share of a badge that is its plain ground, by lightness alone: nearly all but the letters, or less than half."""
    sure, unsure = _badge_of(), _badge_of(indicative=True, indicative_why=["The rule is for a laden rig."])
    filled, open_ = (badge.mean(axis=2) > np.mean(BACKGROUND) + 8 for badge in (sure, unsure))
    assert filled.mean() > 0.9 and open_.mean() < 0.6
    green = np.array(_rgba(BADGES["within"][0])[:3])
    assert (abs(unsure - green).max(axis=2) < 12).mean() < 0.01


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("verdict", ["within", "above", "below", "undecided", "no-band"])
def test_badge_and_the_word_beside_it_stand_inside_the_picture(language: Language, verdict: VerdictWord) -> None:
    """In every language the strip's right edge is free: the longest are German."""
    with speaking(language):
        strip = head(record().model_copy(update={"verdict": verdict, "indicative": True}), 1000)
    edge = _drawn(strip)[:100, 985:]
    assert (edge == np.array(BACKGROUND[:3])).all()
