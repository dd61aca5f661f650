"""Level and bar tags against poses that are not ours: pyapriltags (the AprilTag 3 library, University of Michigan; the wheel's own
`estimate_tag_pose`), on pictures in which its 25h9 tags stand where the marks and the bar tag are.

That library finds the tags, refines them and solves their poses; nothing of ours is in its figures but the sample's camera,
whose intrinsics are known exactly. Its family has the shape of our tags: 5 x 5 bits in a black frame.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from calib.kit.kit import kit
from photomeasure.scene.scene import PlaneView
from photomeasure.seen.centre.tag.fit import fit_code
from photomeasure.solution.model import rotation_matrix
from photomeasure.solution.pose_starts import planar_starts
from tests.running import runs
from tests.scenes.pasted import SAMPLES, Laid, Stance, picture, shots, upright_piece
from tests.scenes.printed import PrintedSheet
from tests.scenes.surfaces import frame

pyapriltags = pytest.importorskip("pyapriltags", reason="pyapriltags has wheels for x86_64 only")
Array = NDArray[np.float64]
SIDE_MM, RIM_MM = 140.0, 40.0  # of the black frame, and white around it
PITCH_DEG = 1.5
SHOT = shots("within")[0]
run = runs()


def black(number: int) -> NDArray[np.bool_]:
    """(7, 7) modules of the 25h9 family's tag, row 0 at the top."""
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_25h9)
    bits = cv2.aruco.Dictionary.getBitsFromByteList(family.bytesList[number : number + 1], 5)
    return np.pad(np.asarray(bits) == 0, 1, constant_values=True)


def tag_at(number: int, middle_mm: Array, right: Array, up: Array, side_mm: float = SIDE_MM) -> Laid:
    """A tag in the world, its middle there."""
    texel = side_mm / 280.0
    rim = round(RIM_MM * side_mm / SIDE_MM / texel)
    ink = np.where(np.kron(black(number), np.ones((40, 40), bool)), 0, 255).astype(np.uint8)
    sheet = PrintedSheet(
        texture=cv2.copyMakeBorder(ink, rim, rim, rim, rim, cv2.BORDER_CONSTANT, value=255).astype(np.uint8),
        mm_per_texel=(texel, texel),
        corner_mm=(-side_mm / 2 - rim * texel, -side_mm / 2 - rim * texel),
    )
    return Laid(sheet=sheet, world_from_page=frame(middle_mm, right, up))


@dataclass(frozen=True, slots=True, kw_only=True)
class Theirs:
    """One tag as the library has it, in the whole picture's pixels counted from its corner."""

    pose_t: Array
    pose_R: Array
    homography: Array
    corners: Array


def found_by_theirs(grey: Array, about_mm: Array, side_mm: float = SIDE_MM) -> dict[int, Theirs]:
    """Its detections with poses, by id, in the part of the picture that shows places (N, 3) and 300 px about them.

    It counts pixels from their corner, so that the axis is half a pixel further.
    """
    about = SHOT.px(about_mm)
    x0, y0 = np.maximum(about.min(axis=0) - 300, 0).astype(int)
    x1, y1 = (about.max(axis=0) + 300).astype(int)
    fx, fy, cx, cy = SHOT.intrinsics[:4]
    detector = pyapriltags.Detector(families="tag25h9", quad_decimate=1.0)
    given = (float(fx), float(fy), float(cx) + 0.5 - x0, float(cy) + 0.5 - y0)
    part = np.ascontiguousarray(grey[y0:y1, x0:x1].astype(np.uint8))
    seen = detector.detect(part, estimate_tag_pose=True, camera_params=given, tag_size=side_mm)
    moved = np.array([[1.0, 0.0, x0], [0.0, 1.0, y0], [0.0, 0.0, 1.0]])
    return {
        one.tag_id: Theirs(
            pose_t=one.pose_t, pose_R=one.pose_R, homography=moved @ one.homography, corners=one.corners + moved[:2, 2]
        )
        for one in seen
        if one.tag_id < 6 and one.hamming == 0  # others are clutter that reads like one
    }


RIGHT, UP = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])


@pytest.fixture(scope="module")
def side() -> Array:
    """Two prints of the kit, two tags standing on the ground, two on a rail that rises to the right by PITCH_DEG."""
    pitch = np.radians(PITCH_DEG)
    along, across = np.array([np.cos(pitch), 0.0, np.sin(pitch)]), np.array([-np.sin(pitch), 0.0, np.cos(pitch)])
    on_ground = SIDE_MM / 2 + RIM_MM
    pieces = [
        upright_piece(Stance(aside_mm=-330.0, roll_rad=0.004), 730_066),
        upright_piece(Stance(aside_mm=290.0, lean_rad=0.004), 104_215),
        *(tag_at(i, np.array([x, -150.0, on_ground]), RIGHT, UP) for i, x in enumerate((-640.0, 640.0))),
        *(
            tag_at(2 + i, np.array([0.0, -110.0, 560.0]) + x * along, along, across)
            for i, x in enumerate((-600.0, 600.0))
        ),
    ]
    return picture(SHOT, tuple(pieces), np.random.default_rng(4))


def rise_deg(vector: Array, up: Array) -> float:
    """Of a line above the plane that `up` is upright on."""
    high = float(vector @ up)
    return float(np.degrees(np.arctan2(high, np.linalg.norm(vector - high * up))))


def test_the_pitch_of_a_rail(side: Array, tmp_path: Path) -> None:
    """Theirs: the angle between the lines through the tags' places in the camera's frame. Ours: their marks, our level."""
    theirs = found_by_theirs(side, np.array([[-640.0, -150.0, 0.0], [640.0, -150.0, 600.0]]))
    assert sorted(theirs) == [0, 1, 2, 3]
    place = {i: one.pose_t.ravel() for i, one in theirs.items()}
    upright = np.mean([theirs[i].pose_R[:, 1] for i in (0, 1)], axis=0)  # OpenCV prints that family half a turn round
    up = -np.sign(upright[1]) * upright / np.linalg.norm(upright)
    pitch_deg = rise_deg(place[3] - place[2], up) - rise_deg(place[1] - place[0], up)
    assert pitch_deg == pytest.approx(PITCH_DEG, abs=0.1)  # what the distortion does that it does not know

    low = np.array(
        [0.0, 1.0 + 2.0 * RIM_MM / SIDE_MM, 1.0]
    )  # of a tag's own frame, -1 to 1: where it stands on the ground
    marks: list[str] = []
    for option, ids, point in (("--ground", (0, 1), low), ("--rail", (2, 3), np.array([0.0, 0.0, 1.0]))):
        for i in ids:
            x, y, w = theirs[i].homography @ point
            marks += [option, f"{x / w - 0.5:.2f},{y / w - 0.5:.2f}"]
    photo, record = tmp_path / "side.jpg", tmp_path / "level.json"
    exif = Image.open(SAMPLES / "within.jpg").getexif()
    Image.fromarray(cv2.cvtColor(side.astype(np.uint8), cv2.COLOR_GRAY2RGB)).save(photo, quality=94, exif=exif)
    bars = [f"{mm:.1f}" for mm in kit("a4").upright.bars_mm]
    code, told = run("level", photo, *marks, "--bar-x", bars[0], "--bar-y", bars[1], "--level-ground", "--nose", "right",
                     "--json", record)  # fmt: skip
    assert code == 0, told
    ours = json.loads(record.read_text())
    low_deg, high_deg = ours["interval_deg"]
    assert low_deg <= pitch_deg <= high_deg and ours["u_deg"] < 0.2
    assert ours["pitch_deg"] == pytest.approx(pitch_deg, abs=0.2), ours["pitch_deg"]


def test_how_far_a_bar_tag_sank_and_pitched() -> None:
    """Theirs: the change of its pose between two pictures. Ours: our fit of the same tag and its planar pose."""
    sank_mm, pitched, side_mm = 35.0, np.radians(2.0), 60.0
    before = np.array([180.0, -60.0, 420.0])
    turn = np.array([np.cos(0.35), np.sin(0.35), 0.0])
    rolled = np.cos(pitched) * turn - np.sin(pitched) * UP, np.sin(pitched) * turn + np.cos(pitched) * UP
    moves = []
    for middle, right, up in ((before, turn, UP), (before - sank_mm * UP, *rolled)):
        grey = picture(SHOT, (tag_at(5, middle, right, up, side_mm),), np.random.default_rng(5))
        (their,) = found_by_theirs(grey, middle[None], side_mm).values()
        corners = np.asarray(their.corners)[::-1] - 0.5  # theirs from the bottom left, anticlockwise
        start = np.roll(corners, -np.argmin(np.linalg.norm(corners - corners.min(axis=0), axis=1)), axis=0)
        fit = fit_code(grey.astype(np.uint8), start, black(5))
        assert fit is not None
        half = side_mm / 2
        local = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
        view = PlaneView(photo=0, plane="bar-tag", local_mm=local, px=fit.corners_px, sigma_px=np.full(4, 0.05))
        pose = planar_starts(view, SHOT.intrinsics)[0][0]
        moves.append((their.pose_t.ravel(), their.pose_R, pose[3:], rotation_matrix(pose[:3])))
    (their_t, their_turn, our_t, our_turn), (their_t2, their_turn2, our_t2, our_turn2) = moves
    down = SHOT.cam_from_world[:, :3] @ -UP
    theirs_mm, ours_mm = (float(down @ (after - first)) for first, after in ((their_t, their_t2), (our_t, our_t2)))
    assert theirs_mm == pytest.approx(sank_mm, abs=0.5)
    assert ours_mm == pytest.approx(theirs_mm, abs=0.5)
    angles = [cv2.Rodrigues(first.T @ after)[0] for first, after in ((their_turn, their_turn2), (our_turn, our_turn2))]
    theirs_deg, ours_deg = (float(np.degrees(np.linalg.norm(angle))) for angle in angles)
    assert ours_deg == pytest.approx(np.degrees(pitched), abs=0.6)
    assert ours_deg == pytest.approx(theirs_deg, abs=1.0)
