"""What is taken as known in every case, as a table: the priors and the measurand that the program assembles.

The figures are typed here and not taken from the program, so that a changed or forgotten one is seen. Where a value
changes for a reason, its row changes with it. Units: mm, rad, px, shares; rectangles by their standard deviation.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from calib.camera.camera import matrix
from photomeasure.asked.bars import Bars
from photomeasure.asked.bay_file import Bay
from photomeasure.asked.request import Request
from photomeasure.asked.state import State
from photomeasure.rules.load import default_rule
from photomeasure.scene.print_scale import print_priors
from photomeasure.scene.scene import MarkerView, PlaneName, Prior, Scene
from photomeasure.scene.second import second_print_priors
from photomeasure.scene.solved_camera import SolvedCamera
from photomeasure.seen.centre.sightings import Sightings
from photomeasure.solution.geometry import pose_looking
from photomeasure.solution.scene_of import aside_mm, assembled
from tests.points.simulate import Shot, blank

Row = tuple[str, str, float, float, str]  # quantity, what it speaks of, mean, u, distribution
Table = set[Row]

N, T, E = "normal", "curvilinear trapezoid", "exponential"
DEG = np.pi / 180.0
ROOT3 = np.sqrt(3.0)
# a limit a that is a guess, known to 0.75 a: u^2 = a^2 / 3 + (0.75 a)^2 / 9 (JCGM 101:2008 6.4.3.3)
GUESS = np.sqrt(1.0 / 3.0 + 0.75**2 / 9.0)

# 0.40 at 1, 0.35 in 0.96-0.98, 0.10 at 0.941, 0.15 in 0.93-1: 0.4 + 0.3395 + 0.0941 + 0.14475, and its standard deviation
PRINT: Table = {("print scale", "0.5 print.x + 0.5 print.y", 0.97835, 0.0212378, N)}
SHARED: Table = {
    ("rule", "1 rule.error", 0.0, 0.2 * GUESS, T),
    ("paper humidity", "1 paper.growth", 0.0, 0.001 * GUESS, T),
}


def bars_read(x: tuple[float, float], y: tuple[float, float], to_mm: float) -> Table:
    """As drawn and as read along each axis."""
    return SHARED | {
        (
            f"check bar {name}",
            f"{drawn:g} print.{name} + -{drawn:g} paper.growth + 1 rule.error",
            read,
            to_mm * GUESS,
            T,
        )
        for name, (drawn, read) in (("x", x), ("y", y))
    }


BARS_READ = bars_read((150.0, 150.0), (150.0, 149.5), 0.25)
LONG_BARS_READ = bars_read((160.0, 160.0), (240.0, 239.5), 0.25)
WHOLE_BARS_READ = bars_read((150.0, 150.0), (150.0, 149.0), 0.5)
FINE_BARS_READ = bars_read((150.0, 150.0), (150.0, 149.3), 0.1)
BARS_UNREAD: Table = {("print scale, x against y", "1 print.x + -1 print.y", 0.0, 0.004 * GUESS, T)}
SHEET: Table = {
    ("sheet lean", "1 sheet.lean", 0.0, 0.5 * DEG, N),
    ("sheet roll", "1 sheet.roll", 0.0, 0.3 * DEG, N),
    ("foot cut", "1 sheet.cut", 0.0, 0.5 * GUESS, T),
    ("foot gap", "1 sheet.gap + -1 sheet.cut", 0.2, 0.2, E),  # on grit, never below
}
STAND: Table = {("sheet place", f"1 stand.{name}", 0.0, u, N) for name, u in (("x", 1e4), ("y", 1e4), ("yaw", 6.0))}
GROUND_SHEET: Table = {
    ("ground sheet place", "1 flat.x", 0.0, 2000.0, N),
    ("ground sheet place", "1 flat.y", 0.0, 2000.0, N),
    ("ground sheet place", "1 flat.yaw", 0.0, 3.0, N),
    ("ground sheet flatness", "1 flat.tilt_x", 0.0, 0.15 * DEG, N),
    ("ground sheet flatness", "1 flat.tilt_y", 0.0, 0.15 * DEG, N),
    ("ground sheet flatness", "1 flat.lift", 0.1, 0.2, N),
}
# the coupling 100 mm to the right of the middle of the foot line
TURN: Table = {("sheet turn", "1 rig.turn", 0.0, 4.0 * DEG, N)}
IN_PLANE: Table = TURN | {("depth", "1 centre.y + -100 rig.turn", 0.0, 20.0 * GUESS, T)}
TAG: Table = {
    ("tag lie", "1 tag.turn", 0.0, 20.0 * DEG, N),
    ("tag lie", "1 tag.lean", 0.0, 6.0 * DEG, N),
    ("tag lie", "1 tag.roll", 0.0, 6.0 * DEG, N),
    ("tag placement", "1 tag.placement", 0.0, 2.0, N),
}
TAG_IN_PLANE: Table = TURN | {("depth", "1 centre.y + -100 rig.turn", -20.0, 25.0, N)}
HEAD_MARK: Table = TAG_IN_PLANE | {("mark placement", "1 mark.placement", 0.0, 4.5, N)}
PIN_MARK: Table = TAG_IN_PLANE | {("mark placement", "1 mark.placement", 0.0, 2.0, N)}
BALL: Table = {  # 50 mm to half worn: 49.75 +/- 0.5, a guess
    ("ball diameter", "2 ball.radius", 49.75, 0.5 / ROOT3, T),
    ("ball edge", "1 ball.edge0", 0.0, 0.25, N),
}
# ground 100 mm from the middle of the foot line: 3 and 10 mm under 2 m, and what a level read at every place between


def ground(texture_mm: float, uneven_mm: float) -> Table:
    return {
        ("ground", "1 ground.rise", 0.0, texture_mm, N),
        ("ground evenness", "1 ground.slope_rise", 0.0, uneven_mm, N),
    }


LEVEL, UNKNOWN = ground(0.5, 0.15), ground(1.0, 0.5)
READ = ground(1.0, 0.2 * np.sqrt(2.0 / 3.0))  # within 2 mm a metre: two slopes that differ, a triangle of 0.4 mm
READ_WIDE = UNKNOWN  # within 50 mm a metre says less than what is usual
SURVEYED: Table = {("ground", "1 ground.rise", 0.0, np.hypot(0.2, 0.3), N)}
BAY_PLANE: Table = {("depth", "0 centre.x + 1 centre.y + 0 centre.z", 7.0, 5.0, N)}
TAG_BAY_PLANE: Table = {("depth", "0 centre.x + 1 centre.y + 0 centre.z", -13.0, np.hypot(5.0, 25.0), N)}

KIT = PRINT | BARS_READ | SHEET
HEIGHT_BAY = {"centre.z": 1.0, "ground.rise": -1.0}
HEIGHT = HEIGHT_BAY | {"ground.slope_rise": -1.0}
HEIGHT_TAG = HEIGHT | {"tag.placement": 1.0}
HEIGHT_MARK = HEIGHT | {"mark.placement": 1.0}

BARS = Bars(x_mm=150.0, y_mm=149.5)
BAY = Bay.model_validate(
    {
        "schema": "photomeasure/bay/1",
        "dictionary": "DICT_4X4_50",
        "markers": [{"id": 3, "corners_mm": [[0.0, 0.0, 100.0], [100.0, 0, 100], [100, 0, 0], [0, 0, 0]]}],
        "u_mm": 0.3,
        "coupling_plane": {"point_mm": [50.0, 7.0, 20.0], "normal": [0, 2.0, 0], "u_mm": 5.0},
    }
)
NO_PLANE = BAY.model_copy(update={"coupling_plane": None})
MARKERS = MarkerView(
    photo=0,
    names=tuple(f"marker3.{corner}" for corner in range(4)),
    world_mm=np.array(BAY.markers[0].corners_mm),
    px=np.zeros((4, 2)),
    sigma_px=np.full(4, 0.1),
    u_mm=0.3,
)
IN_FRONT = np.array([0.0, -2000.0, 700.0])


def rounded(table: Table) -> Table:
    return {(quantity, of, round(mean, 9), round(float(u), 9), kind) for quantity, of, mean, u, kind in table}


def as_row(prior: Prior) -> Row:
    of = " + ".join(f"{value:g} {name}" for name, value in prior.coefficients.items())
    return prior.quantity, of, prior.mean, prior.u, prior.distribution


def seen(*planes: PlaneName, markers: bool = False) -> Scene:
    """Cameras and sheets as a simulated photograph has them, their planes named anew."""
    made = blank(Shot())
    local = made.planes[0]
    views = tuple(replace(local, plane=plane) for plane in planes)
    return Scene(cameras=made.cameras, camera_of=made.camera_of, planes=views, markers=(MARKERS,) if markers else ())


def sighted(source: str, *, hidden: bool = False) -> Sightings:
    """One photograph that shows the centre by `source`."""
    made = blank(Shot(source=source))
    return Sightings(
        way=source,  # type: ignore[arg-type]
        centre_px=(None,),
        points=made.points,
        outlines=made.outlines,
        tags=tuple(view for view in made.planes if view.plane == "tag"),
        hidden=hidden,
    )


def asked(
    *, bars: Bars = BARS, level: bool | None = True, read: float | None = None, bay: Bay | None = None
) -> Request:
    return Request(
        photos=(),
        rule=default_rule("ball-50"),
        bars=bars,
        state=State(level_ground=level),
        level_within_mm_per_m=read,
        bay=bay,
    )


CASES: dict[str, tuple[Scene, str, Request, Table, dict[str, float]]] = {
    "kit, picked": (seen("upright"), "pick", asked(), KIT | LEVEL | IN_PLANE, HEIGHT),
    "kit, ball": (seen("upright"), "ball", asked(), KIT | LEVEL | IN_PLANE | BALL, HEIGHT),
    "kit, tag": (seen("upright"), "tag", asked(), KIT | LEVEL | TAG | TAG_IN_PLANE, HEIGHT_TAG),
    "kit and ground sheet, picked": (
        seen("upright", "ground"),
        "pick",
        asked(),
        KIT | GROUND_SHEET | LEVEL | IN_PLANE,
        HEIGHT,
    ),
    "no bar read": (
        seen("upright"),
        "pick",
        asked(bars=Bars()),
        PRINT | BARS_UNREAD | SHEET | LEVEL | IN_PLANE,
        HEIGHT,
    ),
    "second edition, longer bars": (
        replace(seen("upright"), bars_mm=(160.0, 240.0)),
        "pick",
        asked(bars=Bars(x_mm=160.0, y_mm=239.5)),
        PRINT | LONG_BARS_READ | SHEET | LEVEL | IN_PLANE,
        HEIGHT,
    ),
    "ground not spoken of": (seen("upright"), "pick", asked(level=None), KIT | UNKNOWN | IN_PLANE, HEIGHT),
    "ground unknown": (seen("upright"), "pick", asked(level=False), KIT | UNKNOWN | IN_PLANE, HEIGHT),
    "ground unknown, tag": (
        seen("upright"),
        "tag",
        asked(level=False),
        KIT | UNKNOWN | TAG | TAG_IN_PLANE,
        HEIGHT_TAG,
    ),
    "ground read by a level": (seen("upright"), "pick", asked(level=None, read=2.0), KIT | READ | IN_PLANE, HEIGHT),
    "ground read by a phone": (
        seen("upright"),
        "pick",
        asked(level=None, read=50.0),
        KIT | READ_WIDE | IN_PLANE,
        HEIGHT,
    ),
    "bars read to a millimetre": (
        seen("upright"),
        "pick",
        asked(bars=Bars(x_mm=150.0, y_mm=149.0)),
        PRINT | WHOLE_BARS_READ | SHEET | LEVEL | IN_PLANE,
        HEIGHT,
    ),
    "bars read to a tenth": (
        seen("upright"),
        "pick",
        asked(bars=Bars(x_mm=150.0, y_mm=149.3)),
        PRINT | FINE_BARS_READ | SHEET | LEVEL | IN_PLANE,
        HEIGHT,
    ),
    "ground read by a level, tag": (
        seen("upright"),
        "tag",
        asked(level=None, read=2.0),
        KIT | READ | TAG | TAG_IN_PLANE,
        HEIGHT_TAG,
    ),
    "bay, picked": (seen(markers=True), "pick", asked(bay=BAY, bars=Bars()), SURVEYED | BAY_PLANE, HEIGHT_BAY),
    "bay without a plane": (seen(markers=True), "pick", asked(bay=NO_PLANE, bars=Bars()), SURVEYED, HEIGHT_BAY),
    "bay, ground said to be unknown": (
        seen(markers=True),
        "pick",
        asked(bay=BAY, bars=Bars(), level=False),
        SURVEYED | BAY_PLANE,
        HEIGHT_BAY,
    ),
    "bay, tag": (
        seen(markers=True),
        "tag",
        asked(bay=BAY),
        PRINT | BARS_READ | SURVEYED | TAG | TAG_BAY_PLANE,
        HEIGHT_BAY | {"tag.placement": 1.0},
    ),
    "bay and kit": (
        seen("upright-in-bay", markers=True),
        "pick",
        asked(bay=BAY),
        KIT | STAND | SURVEYED | BAY_PLANE,
        HEIGHT_BAY,
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_what_is_known(name: str) -> None:
    """Every prior with its value, none else, none twice; and what is added up to the height."""
    scene, source, request, table, measurand = CASES[name]
    made = assembled(scene, sighted(source), request, aside_mm=100.0, lens_mm=IN_FRONT)
    rows = [as_row(prior) for prior in made.priors]
    assert rounded(set(rows)) == rounded(table)
    assert len(rows) == len(table)
    assert dict(made.measurand) == measurand


@pytest.mark.parametrize(("coupling", "table"), [("ball-50", HEAD_MARK), ("pin", PIN_MARK)])
def test_a_mark_on_what_hides_the_centre_was_placed_by_eye(coupling: str, table: Table) -> None:
    request = replace(asked(), coupling=coupling)
    made = assembled(seen("upright"), sighted("pick", hidden=True), request, aside_mm=100.0)
    assert rounded({as_row(prior) for prior in made.priors}) == rounded(KIT | LEVEL | table)
    assert dict(made.measurand) == HEIGHT_MARK


@pytest.mark.parametrize("name", CASES)
def test_only_the_trusted_way_is_observed(name: str) -> None:
    """The others are compared elsewhere, and would count twice here."""
    scene, source, request, _, _ = CASES[name]
    made = assembled(scene, sighted(source), request, aside_mm=100.0, lens_mm=IN_FRONT)
    tags = [view for view in made.planes if view.plane == "tag"]
    assert (bool(made.points), bool(made.outlines), bool(tags)) == (source == "pick", source == "ball", source == "tag")


def test_a_tag_in_a_bay_is_on_the_side_that_the_camera_is_on() -> None:
    """20 mm nearer than the coupling plane, from whichever side the photograph is taken."""
    scene, source, request, _, _ = CASES["bay, tag"]
    depth = [
        next(
            p
            for p in assembled(scene, sighted(source), request, aside_mm=0.0, lens_mm=lens).priors
            if p.quantity == "depth"
        )
        for lens in (IN_FRONT, IN_FRONT * [1.0, -1.0, 1.0])
    ]
    assert [prior.mean for prior in depth] == [7.0 - 20.0, 7.0 + 20.0]


@pytest.mark.parametrize("away_mm", [-320.0, 0.0, 180.0])
def test_how_far_aside_of_the_foot_lines_middle_the_coupling_stands(away_mm: float) -> None:
    """From where it is seen, in the sheet's plane; the lens beside it and higher. Projection by OpenCV, which is not ours."""
    lens, centre = np.array([240.0, -2100.0, 900.0]), np.array([away_mm, 0.0, 410.0])
    pose = pose_looking(lens, np.array([0.0, 0.0, 300.0]))
    intrinsics = np.array([3000.0, 3000.0, 1999.5, 1499.5, 0.0, 0.0, 0.0, 0.0, 0.0])
    seen, _ = cv2.projectPoints(centre[None], pose[:3], pose[3:], matrix(intrinsics), np.zeros(5))
    px = np.asarray(seen, dtype=np.float64).reshape(2)
    sightings = replace(sighted("pick"), centre_px=(None, px))
    turn = np.asarray(cv2.Rodrigues(pose[:3])[0], dtype=np.float64)
    cameras = [SolvedCamera(intrinsics=intrinsics, cam_from_world=turn, world_in_cam_mm=pose[3:])] * 2
    assert aside_mm(sightings, cameras) == pytest.approx(away_mm, abs=1e-6)
    assert aside_mm(replace(sightings, centre_px=(None, None)), cameras) == 0.0


BY_CARD, BY_RULER = Bars(x_mm=179.1, y_mm=249.0, x_u_mm=0.2, y_u_mm=0.3, correlation=0.5), Bars(x_mm=179.5, y_mm=249.5)


@pytest.mark.parametrize("first", [BY_CARD, BY_RULER])
@pytest.mark.parametrize("second", [BY_CARD, BY_RULER])
def test_every_error_of_two_prints_is_known_once(first: Bars, second: Bars) -> None:
    """One ruler reads both prints, a card is laid on each: no error without a prior, and none with two."""
    of_first = print_priors(first, (180.0, 250.0))
    priors = [*of_first, *second_print_priors(second, (180.0, 250.0), of_first)]
    alone = [next(iter(prior.coefficients)) for prior in priors if len(prior.coefficients) == 1]
    errors = {
        name for prior in priors for name in prior.coefficients if not name.startswith(("print.", "second_print."))
    }
    assert sorted(alone) == sorted(errors)
    assert ("rule.error" in errors) == (BY_RULER in (first, second))
    assert ("second_card.error" in errors) == (second is BY_CARD)
