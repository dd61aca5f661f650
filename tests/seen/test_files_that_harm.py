"""Files that are no photographs, or damaged ones: nothing else is started, nothing crashes, nothing is measured.

`ends_the_decoder.heic` is a HEIC of 64 x 64 pixels in which three bytes of the head were changed (found by
`tests.experiments.damaged_files`); it ends a process that decodes it with pi-heif 1.4.0 by signal 11.
"""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from photomeasure.record.measure_and_record import file_digest
from photomeasure.seen import decoding_aside
from photomeasure.seen.decoding_aside import Limits, decode_aside
from photomeasure.seen.formats import format_of
from photomeasure.seen.image import MAX_FILE_BYTES, Photo, decode, load

CRASHING = Path(__file__).with_name("ends_the_decoder.heic")
NAME = Path("holiday.jpg")
LIMITS = Limits(most_pixels=10**7, most_whole_pixels=10**7, small_pixels=10**7)


def noise(size: tuple[int, int] = (640, 480)) -> Image.Image:
    width, height = size
    rng = np.random.default_rng(3)
    return Image.fromarray(rng.integers(0, 256, (height, width, 3), dtype=np.uint8))


def encoded(image: Image.Image, kind: str, **options: object) -> bytes:
    stream = io.BytesIO()
    image.save(stream, kind, **options)
    return stream.getvalue()


def code(data: bytes) -> str | None:
    found = decode(NAME, data)
    return found.code if isinstance(found, Refusal) else None


@pytest.mark.parametrize("kind", ["EPS", "PDF", "BMP", "GIF", "PPM", "TGA", "DDS", "ICO", "SGI", "PCX"])
def test_formats_that_no_phone_writes_are_not_opened(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the file is called. The EPS reader of Pillow would start `gs` from PATH."""
    started = tmp_path / "started"
    gs = tmp_path / "gs"
    gs.write_text(f"#!/bin/sh\ntouch {started}\n")
    gs.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    photo = tmp_path / "holiday.jpg"
    photo.write_bytes(encoded(noise(), kind))
    found = load(photo)
    assert isinstance(found, Refusal) and found.code == "unreadable" and "JPEG, HEIC" in found.remedy
    assert not started.exists()


@pytest.mark.parametrize(
    "kind,name", [("JPEG", "JPEG"), ("PNG", "PNG"), ("TIFF", "TIFF"), ("WEBP", "WEBP"), ("AVIF", "AVIF")]
)
def test_formats_are_told_by_their_first_bytes(kind: str, name: str) -> None:
    data = encoded(noise(), kind)
    assert format_of(data[:64]) == name
    assert isinstance(decode(Path("any name.txt"), data), Photo)


def test_a_video_and_a_raw_picture_are_named_as_such() -> None:
    video = b"\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isomiso2" + bytes(1000)
    found = decode(NAME, video)
    assert isinstance(found, Refusal) and "video" in found.reason
    raw = io.BytesIO()
    noise().save(raw, "TIFF", tiffinfo={50706: b"\x01\x04\x00\x00"})
    found = decode(Path("IMG_1.dng"), raw.getvalue())
    assert isinstance(found, Refusal) and "raw picture" in found.reason


def test_a_file_that_ends_its_decoder_costs_itself_only() -> None:
    good = encoded(noise(), "AVIF")
    assert isinstance(decode(NAME, good), Photo)
    for _ in range(3):
        assert code(CRASHING.read_bytes()) == "unreadable"
        assert isinstance(decode(NAME, good), Photo)


def test_a_decoder_that_dies_or_hangs_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    data = encoded(noise(), "TIFF")
    assert decode_aside(data, limits=LIMITS).error is None
    child = decoding_aside._child
    assert child is not None
    os.kill(child.process.pid, signal.SIGKILL)  # between two pictures
    assert decode_aside(data, limits=LIMITS).error in (None, "crashed")
    assert decode_aside(data, limits=LIMITS).error is None
    monkeypatch.setattr(decoding_aside, "LONGEST_S", 0.0)  # within one
    assert decode_aside(encoded(noise((3000, 2000)), "AVIF", speed=10), limits=LIMITS).error in ("crashed", None)
    monkeypatch.undo()
    assert decode_aside(data, limits=LIMITS).error is None


@pytest.mark.skipif(not hasattr(os, "killpg"), reason="signals of this kind are POSIX")
def test_no_decoder_is_left_when_its_parent_is_killed() -> None:
    script = (
        "import io, time\nfrom PIL import Image\nfrom photomeasure.seen import decoding_aside as aside\n"
        "stream = io.BytesIO()\nImage.new('L', (400, 400)).save(stream, 'TIFF')\n"
        "limits = aside.Limits(most_pixels=10**6, most_whole_pixels=10**6, small_pixels=10**6)\n"
        "assert aside.decode_aside(stream.getvalue(), limits=limits).error is None\n"
        "print(aside._child.process.pid, flush=True)\ntime.sleep(60)\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, cwd=Path(__file__).parents[2])
    assert parent.stdout is not None
    child = int(parent.stdout.readline())
    parent.kill()
    parent.wait()
    parent.stdout.close()
    for _ in range(100):
        if not _alive(child):
            return
        time.sleep(0.05)
    raise AssertionError("the decoder outlives its parent")


def _alive(process: int) -> bool:
    status = Path(f"/proc/{process}/stat")
    try:
        return status.read_text().rpartition(")")[2].split()[0] != "Z"  # init may be slow to bury it
    except OSError:
        return False


def test_a_jpeg_that_was_damaged_is_not_measured() -> None:
    """A decoder fills in and says so on the terminal only; here what it says is heard.

    Lost, doubled and zeroed blocks anywhere in the picture's data. A few leave no trace in the code (the last bits happen to
    come out even): of 180 such files 7 did.
    """
    data = (Path(__file__).parents[2] / "sample_images" / "chat.jpg").read_bytes()
    rng = np.random.default_rng(20261126)
    codes = []
    for _ in range(20):
        at, length = int(rng.integers(len(data) // 5, len(data) - 500)), int(rng.integers(20, 400))
        for put in (data[at + length :], data[at - length :], bytes(length) + data[at + length :]):
            codes.append(code(data[:at] + put))
    assert sum(found in ("damaged", "truncated", "unreadable") for found in codes) >= 54


def test_padding_before_the_end_of_a_jpeg_is_no_damage() -> None:
    data = encoded(noise(), "JPEG", quality=80)
    for padding in (b"\x00" * 700, b"\xff" * 5):
        assert code(data[:-2] + padding + data[-2:]) is None


def test_a_jpeg_whose_lower_edge_is_mid_grey_is_whole() -> None:
    """128 is what a decoder puts where data is missing, and what a grey border is."""
    picture = np.array(noise())
    picture[-40:] = 128
    assert code(encoded(Image.fromarray(picture), "JPEG", quality=90)) is None


@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"subsampling": 0}, {"mode": "CMYK"}, {"mode": "L"}])
def test_jpeg_pixels_are_those_of_opencv(options: dict[str, object]) -> None:
    image = noise().convert(str(options.pop("mode", "RGB")))
    data = encoded(image, "JPEG", quality=85, **options)
    found = decode(NAME, data)
    assert isinstance(found, Photo)
    expected: NDArray[np.uint8] = np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE))
    assert np.array_equal(found.grey, expected)


def test_a_file_is_looked_at_before_it_is_read(tmp_path: Path) -> None:
    """A sparse file of 3 GB: by its first bytes no photograph, or too large to be one; neither is read."""
    path = tmp_path / "holiday.jpg"
    for head, reason in ((b"junk", "no picture"), (b"\xff\xd8\xff\xe0", "MB")):
        with path.open("wb") as stream:
            stream.write(head)
            stream.truncate(max(3_000_000_000, MAX_FILE_BYTES + 1))
        found = load(path)
        assert isinstance(found, Refusal) and reason in found.reason
    assert file_digest(path) is None  # the record of the refusal does not read it through either


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")
def test_pipes_and_devices_are_no_photographs(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    for path in (tmp_path / "pipe.jpg", Path("/dev/zero"), tmp_path, tmp_path / "a\0b.jpg"):
        with pytest.raises(InputError):
            load(path)
