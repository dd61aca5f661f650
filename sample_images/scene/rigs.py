"""The rigs of the Ferncombe hire yard (all invented), and how each was photographed."""

from __future__ import annotations

from dataclasses import dataclass

from scene.kit_prints import Lying, Standing
from scene.phone import Phone
from scene.sky import Daylight


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """What stands in the yard. World: x right, y away from the viewer, z up, ground z = 0; the sheet faces -y.

    ball_mm:      the coupling centre's x and y; its height is `height_mm`.
    heading_deg:  where the vehicle points: 0 away from the viewer, 90 to the left, -90 to the right.
    lift_mm:      how much the body and the tow bar's receiver stand above their usual height.
    """

    words: str
    height_mm: float
    vehicle: str = "truck"
    fleet: str = "2"
    paint: str = "white"
    trailer_paint: str = "red"
    finish: str = "chrome"
    ball_mm: tuple[float, float] = (0.0, 0.0)
    heading_deg: float = 50.0
    back_mm: float = 240.0
    lift_mm: float = 0.0
    coupled: bool = False
    tag_off_mm: float = 0.0  # a centre tag stuck too high
    bar_tag_mm: tuple[float, float, float] | None = None  # of a bar tag's middle from the ball: ahead, outwards, up
    second_bar_tag_mm: tuple[float, float, float] | None = None  # of another one in the same way
    pitch_deg: float = 0.0  # of the tow bar about the ball, as a bar tag shows it
    laden: bool = False
    level_ground: bool = True
    dust: float = 0.25
    standing: Standing = Standing()
    second_standing: Standing | None = None  # of a second upright sheet, a print with another number
    lying: Lying | None = None
    board_mm: tuple[float, float] = (228.0, 280.0)
    light: Daylight = Daylight()
    wall_mm: float = 8500.0
    cladding: tuple[float, float, float] = (0.16, 0.25, 0.24)
    door_x_mm: float = 1500.0
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """Where the phone was held (mm), what it looked at, and how; `portrait` pictures carry EXIF orientation 6."""

    place_mm: tuple[float, float, float]
    at_mm: tuple[float, float, float]
    roll_deg: float = 0.0
    portrait: bool = False
    phone: Phone = Phone()
    taken: str = "2026:05:14 09:32:10"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One file of truth: a rig and its photographs. `chat` shrinks to 1600 px, drops EXIF, JPEG quality 70."""

    name: str
    rig: Rig
    shots: tuple[Shot, ...]
    chat: bool = False


_SOFT = Daylight(sun_azimuth_deg=200, sun_elevation_deg=50, sun_irradiance=2.2, cloud=0.97, seed=5)

SAMPLES: tuple[Sample, ...] = (
    Sample(
        name="within",
        rig=Rig(
            words="yard truck 2, nothing on the ball; the sheet stands under it",
            height_mm=402.0,
            ball_mm=(4.0, 3.0),
            heading_deg=52,
            standing=Standing(lean_deg=0.2, roll_deg=-0.1),
            light=Daylight(sun_azimuth_deg=218, sun_elevation_deg=47, cloud=0.40, seed=3),
            door_x_mm=1900.0,
            seed=3,
        ),
        shots=(
            Shot(
                place_mm=(110.0, -2080.0, 430.0),
                at_mm=(-40.0, 0.0, 405.0),
                roll_deg=0.6,
                taken="2026:05:14 09:32:10",
            ),
        ),
    ),
    Sample(
        name="above",
        rig=Rig(
            words="yard truck 5, springs raised for rough ground; the sheet stands under the ball",
            height_mm=498.0,
            fleet="5",
            paint="red",
            finish="black",
            ball_mm=(-6.0, -2.0),
            heading_deg=-40,
            lift_mm=95,
            dust=0.45,
            standing=Standing(lean_deg=-0.15, roll_deg=0.1),
            light=Daylight(sun_azimuth_deg=140, sun_elevation_deg=52, cloud=0.25, seed=8),
            cladding=(0.40, 0.36, 0.29),
            door_x_mm=-2600.0,
            seed=5,
        ),
        shots=(
            Shot(
                place_mm=(-160.0, -2100.0, 505.0),
                at_mm=(-30.0, 0.0, 450.0),
                roll_deg=-0.8,
                taken="2026:05:14 10:05:41",
            ),
        ),
    ),
    Sample(
        name="close-call",
        rig=Rig(
            words="yard van 7, nothing on the ball, nothing in the van; the sheet stands under the ball",
            height_mm=459.6,
            vehicle="van",
            fleet="7",
            finish="painted",
            ball_mm=(2.0, -4.0),
            heading_deg=33,
            back_mm=250,
            lift_mm=40,
            dust=0.2,
            standing=Standing(lean_deg=0.25, roll_deg=0.15),
            light=Daylight(sun_azimuth_deg=245, sun_elevation_deg=38, cloud=0.45, seed=12),
            cladding=(0.20, 0.26, 0.33),
            door_x_mm=2600.0,
            seed=7,
        ),
        shots=(
            Shot(
                place_mm=(-120.0, -2050.0, 470.0),
                at_mm=(30.0, 0.0, 430.0),
                roll_deg=0.9,
                taken="2026:05:14 11:20:07",
            ),
        ),
    ),
    Sample(
        name="coupled",
        rig=Rig(
            words="yard truck 3 with plant trailer B; the head hides the ball and wears a centre tag on its side",
            height_mm=421.0,
            fleet="3",
            paint="blue",
            trailer_paint="yellow",
            ball_mm=(0.0, 5.0),
            heading_deg=90,
            coupled=True,
            laden=True,
            dust=0.35,
            standing=Standing(lean_deg=0.1, roll_deg=-0.15),
            light=Daylight(sun_azimuth_deg=205, sun_elevation_deg=44, cloud=0.35, seed=21),
            cladding=(0.36, 0.37, 0.36),
            door_x_mm=-900.0,
            seed=9,
        ),
        shots=(
            Shot(
                place_mm=(-140.0, -2000.0, 425.0),
                at_mm=(-20.0, 0.0, 415.0),
                roll_deg=-0.5,
                taken="2026:05:14 13:48:55",
            ),
        ),
    ),
    Sample(
        name="set",
        rig=Rig(
            words="yard truck 4 from three places; upright and ground sheet",
            height_mm=431.0,
            fleet="4",
            paint="green",
            finish="rusty",
            ball_mm=(8.0, 12.0),
            heading_deg=-55,
            lift_mm=25,
            dust=0.5,
            standing=Standing(lean_deg=-0.3, roll_deg=0.1),
            lying=Lying(x_mm=6.0, y_mm=-2.0, turn_deg=2.0),
            light=_SOFT,
            cladding=(0.30, 0.22, 0.17),
            door_x_mm=-1800.0,
            seed=11,
        ),
        shots=(
            Shot(
                place_mm=(-620.0, -1930.0, 560.0),
                at_mm=(20.0, 0.0, 360.0),
                roll_deg=0.7,
                taken="2026:05:15 08:12:30",
            ),
            Shot(
                place_mm=(480.0, -1620.0, 860.0),
                at_mm=(40.0, 0.0, 420.0),
                roll_deg=-1.1,
                portrait=True,
                taken="2026:05:15 08:12:44",
            ),
            Shot(
                place_mm=(-60.0, -2250.0, 1430.0),
                at_mm=(0.0, 0.0, 330.0),
                roll_deg=0.4,
                taken="2026:05:15 08:13:02",
            ),
        ),
    ),
    Sample(
        name="chat",
        rig=Rig(
            words="yard van 8 as a chat program passed it on: 1600 px, no EXIF",
            height_mm=391.0,
            vehicle="van",
            fleet="8",
            paint="grey",
            finish="chrome",
            ball_mm=(-3.0, 2.0),
            heading_deg=-28,
            back_mm=250,
            lift_mm=-10,
            dust=0.3,
            standing=Standing(lean_deg=0.15, roll_deg=0.1),
            light=Daylight(sun_azimuth_deg=165, sun_elevation_deg=58, cloud=0.5, seed=33),
            cladding=(0.24, 0.30, 0.20),
            door_x_mm=-3000.0,
            seed=13,
        ),
        shots=(Shot(place_mm=(150.0, -1900.0, 415.0), at_mm=(-30.0, 0.0, 390.0), roll_deg=1.0),),
        chat=True,
    ),
    Sample(
        name="refuse",
        rig=Rig(
            words="yard truck 6, phone moved while the picture was taken: nothing to measure in it",
            height_mm=446.0,
            fleet="6",
            paint="yellow",
            finish="black",
            heading_deg=44,
            lift_mm=45,
            dust=0.4,
            light=Daylight(sun_azimuth_deg=228, sun_elevation_deg=20, sun_irradiance=7.0, cloud=0.5, seed=41),
            cladding=(0.16, 0.25, 0.24),
            door_x_mm=2200.0,
            seed=15,
        ),
        shots=(
            Shot(
                place_mm=(120.0, -2150.0, 440.0),
                at_mm=(0.0, 0.0, 420.0),
                roll_deg=1.2,
                phone=Phone(shake_px=(95.0, 38.0), exposure_stops=-0.3, shot_noise=0.012),
                taken="2026:05:14 17:58:20",
            ),
        ),
    ),
)
