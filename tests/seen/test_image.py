"""Photographs as files: orientation, formats, damage, absurd EXIF; and pictures without a kit.

Sources: the orientation examples of recurser/exif-orientation-examples (MIT), whose files 1-8 show one upright picture;
Pillow's `ImageOps.exif_transpose` and its encoders as the independent hand; road photographs of
udacity/CarND-Advanced-Lane-Lines `test_images` (MIT) as pictures without a kit.
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps, PngImagePlugin

from calib.camera.turning import turned_picture
from calib.outcome.errors import InputError
from calib.outcome.refusal import Refusal
from photomeasure.asked.request import Request
from photomeasure.pipeline import measure
from photomeasure.rules.load import default_rule
from photomeasure.seen import image as image_module
from photomeasure.seen.full_colours import FullColours
from photomeasure.seen.image import MAX_PIXELS, Photo, decode, load
from photomeasure.seen.look import Refused
from tests.shared_data import folder

NAME = Path("plant trailer B.jpg")


def picture(size: tuple[int, int] = (640, 480)) -> Image.Image:
    """A picture that is its own mirror or turn in no way, with noise so that a JPEG of it has some length."""
    rng = np.random.default_rng(1)
    width, height = size
    y, x = np.mgrid[0:height, 0:width]
    values = 40.0 + 120.0 * x / width + 60.0 * y / height + rng.normal(0.0, 6.0, (height, width))
    values[: height // 4, : width // 5] = 250.0
    grey = np.clip(values, 0, 255).astype(np.uint8)
    return Image.fromarray(np.stack([grey, grey, grey], axis=2))


def encoded(image: Image.Image, kind: str, **options: object) -> bytes:
    stream = io.BytesIO()
    image.save(stream, kind, **options)
    return stream.getvalue()


def grey_of(image: Image.Image) -> NDArray[np.float64]:
    return np.asarray(image.convert("L"), dtype=np.float64)


def decoded(data: bytes, name: Path = NAME) -> Photo:
    photo = decode(name, data)
    assert isinstance(photo, Photo), photo
    return photo


def refused(data: bytes) -> Refusal:
    refusal = decode(NAME, data)
    assert isinstance(refusal, Refusal)
    assert refusal.reason and refusal.remedy and NAME.name in refusal.reason
    return refusal


def alike(one: NDArray[np.uint8], other: NDArray[np.float64], tolerance: float = 3.0) -> bool:
    return one.shape == other.shape and float(np.abs(one.astype(np.float64) - other).mean()) < tolerance


@pytest.mark.parametrize("kind", ["Landscape", "Portrait"])
def test_all_orientations_show_the_same_upright_picture(kind: str) -> None:
    """Files 1-8, and 0 (an invalid value, taken as upright); also as Pillow turns them."""
    examples = folder("exif-orientation")
    first = load(examples / f"{kind}_1.jpg")
    assert isinstance(first, Photo)
    for number in range(9):
        path = examples / f"{kind}_{number}.jpg"
        photo = load(path)
        assert isinstance(photo, Photo)
        assert alike(photo.grey, first.grey.astype(np.float64), 6.0), number
        with Image.open(path) as image:
            assert alike(photo.grey, grey_of(ImageOps.exif_transpose(image)), 2.0), number
        assert photo.colour(300).shape[:2] == (300, round(300 * photo.size_px[0] / photo.size_px[1])) or (
            photo.colour(300).shape[1] == 300
        )


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turned_is_what_pillow_turns(orientation: int) -> None:
    grey = np.asarray(picture((64, 48)).convert("L"))
    image = Image.fromarray(grey)
    image.getexif()[ExifTags.Base.Orientation] = orientation
    assert np.array_equal(turned_picture(grey, orientation), np.asarray(ImageOps.exif_transpose(image)))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP"])
@pytest.mark.parametrize("orientation", [1, 6, 8])
def test_every_format_is_turned_once(kind: str, orientation: int) -> None:
    image = picture()
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    options: dict[str, object] = {"WEBP": {"lossless": True}, "JPEG": {"quality": 95}}.get(kind, {})  # type: ignore[assignment]
    data = encoded(image, kind, exif=exif, **options)
    with Image.open(io.BytesIO(data)) as again:
        expected = grey_of(ImageOps.exif_transpose(again))
    assert alike(decoded(data).grey, expected, 2.0)


def test_sixteen_bit_and_grey_pictures_are_read() -> None:
    grey = np.asarray(picture().convert("L"))
    deep = Image.fromarray(grey.astype(np.uint16) * 257)
    for data in (encoded(deep, "PNG"), encoded(Image.fromarray(grey), "PNG"), encoded(deep, "TIFF")):
        assert alike(decoded(data).grey, grey.astype(np.float64), 1.0)
    assert alike(decoded(encoded(Image.fromarray(grey), "JPEG", quality=95)).grey, grey.astype(np.float64), 3.0)


@pytest.mark.parametrize("turn", [6, pytest.param(None, marks=pytest.mark.slow)])
def test_heic_is_read_upright(turn: int | None) -> None:
    """Encoded by pillow-heif (tests only); decoded by the product's own decoder."""
    heif = pytest.importorskip("pillow_heif", reason="pillow-heif, the HEIC encoder of the tests, is not installed")
    image = picture()
    stream = io.BytesIO()
    options = {} if turn is None else {"exif": _orientation(turn)}
    heif.from_pillow(image).save(stream, quality=90, **options)
    data = stream.getvalue()
    photo = decoded(data, Path("yard truck 2.heic"))
    assert photo.format in ("HEIF", "HEIC")
    expected = image if turn is None else ImageOps.exif_transpose(_with_orientation(image, turn))
    assert alike(photo.grey, grey_of(expected), 4.0)
    damaged = decode(Path("yard truck 2.heic"), data[: len(data) // 2])
    assert isinstance(damaged, Refusal)


def _orientation(turn: int) -> bytes:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = turn
    return exif.tobytes()


def _with_orientation(image: Image.Image, turn: int) -> Image.Image:
    copy = image.copy()
    copy.getexif()[ExifTags.Base.Orientation] = turn
    return copy


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("thumbnail", [False, True])
def test_a_truncated_jpeg_is_never_measured(progressive: bool, thumbnail: bool) -> None:
    """At any length, also when an embedded thumbnail brings an end-of-image marker of its own."""
    options: dict[str, object] = {"quality": 90, "progressive": progressive}
    if thumbnail:
        small = encoded(picture((320, 240)).resize((160, 120)), "JPEG")
        app1 = b"Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x00\x00\x00\x00\x00" + small
        plain = encoded(picture(), "JPEG", **options)
        data = plain[:2] + b"\xff\xe1" + (len(app1) + 2).to_bytes(2, "big") + app1 + plain[2:]
    else:
        data = encoded(picture(), "JPEG", **options)
    assert isinstance(decode(NAME, data), Photo)
    for share in (0.001, 0.02, 0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 0.97, 0.999):
        assert refused(data[: int(len(data) * share)]).code in ("truncated", "unreadable"), share
    assert refused(data[:-2]).code == "truncated"


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_truncated_jpeg_that_was_closed_again_is_not_measured(share: float) -> None:
    """Some programs put the end marker behind what they received: a decoder fills the rest with flat grey."""
    data = encoded(picture(), "JPEG", quality=90)
    assert refused(data[: int(len(data) * share)] + b"\xff\xd9").code == "truncated"


def test_data_that_phones_append_does_no_harm() -> None:
    data = encoded(picture(), "JPEG", quality=90)
    for tail in (b"\x00" * 1000, b"MotionPhoto_Data" + bytes(range(256)) * 40):
        assert alike(decoded(data + tail).grey, grey_of(picture()), 3.0)


def test_what_is_no_picture_is_refused() -> None:
    assert refused(b"").code == "unreadable"
    assert refused(b"Ferncombe hire yard, list of trailers\n" * 50).code == "unreadable"
    assert refused(b"%PDF-1.4\n" + b"0" * 2000).code == "unreadable"
    assert refused(b"\xff\xd8\xff\xe0" + b"\x00" * 2000).code in ("unreadable", "truncated")
    cut = encoded(picture(), "PNG")
    assert refused(cut[: len(cut) // 2]).code in ("unreadable", "truncated")


def test_too_small_and_too_large_are_refused_before_decoding() -> None:
    assert refused(encoded(picture((300, 200)), "JPEG")).code == "too-small"
    side = int(np.sqrt(MAX_PIXELS)) + 100
    bomb = encoded(Image.new("1", (side, side)), "PNG")
    assert len(bomb) < 200_000
    assert refused(bomb).code == "too-large"


def test_a_path_that_is_no_file_is_wrong_usage(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "missing.jpg"):
        with pytest.raises(InputError) as caught:
            load(path)
        assert str(path) in str(caught.value)


def test_exif_says_what_it_says_and_absurd_values_are_silent() -> None:
    """Tags of CIPA DC-008 (EXIF) by Pillow's names; values that no camera has are taken as silence."""
    sane = _exif(
        {ExifTags.Base.FocalLengthIn35mmFilm: 26, ExifTags.Base.FocalLength: 5.4, ExifTags.Base.DigitalZoomRatio: 2.0}
    )
    facts = decoded(encoded(picture(), "JPEG", exif=sane)).facts
    assert (facts.focal_35mm, facts.digital_zoom) == (26.0, 2.0)
    assert facts.focal_mm == pytest.approx(5.4)
    for value in (0, 1, 65535):
        absurd = _exif({ExifTags.Base.FocalLengthIn35mmFilm: value, ExifTags.Base.DigitalZoomRatio: 0.0})
        facts = decoded(encoded(picture(), "JPEG", exif=absurd)).facts
        assert facts.focal_35mm is None and facts.digital_zoom == 1.0
    words = Image.Exif()
    words[ExifTags.Base.Model] = "yard\x00\x07 phone " + "x" * 500
    facts = decoded(encoded(picture(), "JPEG", exif=words)).facts
    assert facts.model is None or (len(facts.model) <= 80 and facts.model.isprintable())
    broken = encoded(picture(), "JPEG")
    app1 = b"Exif\x00\x00MM\x00*\x00\x00\xff\xff\x00\x00"
    broken = broken[:2] + b"\xff\xe1" + (len(app1) + 2).to_bytes(2, "big") + app1 + broken[2:]
    assert decoded(broken).facts.focal_35mm is None


def _exif(values: dict[ExifTags.Base, float]) -> Image.Exif:
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.Exif).update({int(tag): value for tag, value in values.items()})
    return exif


@pytest.mark.parametrize("number", [1, 4, *(pytest.param(other, marks=pytest.mark.slow) for other in (2, 3, 5, 6))])
def test_pictures_without_a_kit_are_refused_with_a_remedy(number: int) -> None:
    path = folder("no-target") / f"test{number}.jpg"
    outcome = measure(Request(photos=(path,), rule=default_rule("ball-50")))
    assert isinstance(outcome, Refused)
    assert outcome.refusal.code == "no-sheet"
    assert outcome.refusal.reason and outcome.refusal.remedy


@pytest.mark.parametrize("mode", ["RGB", "L", pytest.param("RGBA", marks=pytest.mark.slow)])
def test_heic_band_by_band_is_what_its_own_reader_makes_of_it(mode: str) -> None:
    """Pixel by pixel, grey and in colour, where a band does not end with the picture and a side is odd."""
    heif = pytest.importorskip("pillow_heif", reason="pillow-heif, the HEIC encoder of the tests, is not installed")
    import pi_heif

    stream = io.BytesIO()
    heif.from_pillow(picture((601, 777)).convert(mode)).save(stream, quality=90)
    whole = pi_heif.open_heif(io.BytesIO(stream.getvalue())).to_pillow()
    photo = decoded(stream.getvalue(), Path("yard truck 2.heic"))
    assert np.array_equal(photo.grey, np.asarray(whole.convert("L")))
    for side, factor in ((777, 1), (300, 2), (250, 3)):
        expected = np.asarray(whole.convert("RGB").reduce(factor))
        assert np.array_equal(photo.colour_at_least(side)[:, :, ::-1], expected), factor


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "AVIF", "HEIF"])
@pytest.mark.parametrize("turn", [1, 6])
def test_a_large_picture_is_drawn_on_at_a_half(kind: str, turn: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """All of it is not held in colour; of every format alike, and its parts at full size are where they are."""
    monkeypatch.setattr(image_module, "MOST_COLOUR_PIXELS", 250_000)
    monkeypatch.setattr(image_module, "_LIMITS", replace(image_module._LIMITS, small_pixels=250_000))
    small = np.asarray(picture((55, 44)).convert("RGB")) // [1, 2, 3]
    image = Image.fromarray(np.kron(small.astype(np.uint8), np.ones((20, 20, 1), np.uint8)))
    options: dict[str, dict[str, object]] = {"AVIF": {"speed": 10}, "HEIF": {"tile_size": 512}}
    if kind == "HEIF":
        pytest.importorskip(
            "pillow_heif", reason="the HEIC encoder of the tests is not installed"
        ).register_heif_opener()
    data = encoded(image, kind, quality=90, exif=_orientation(turn), **options.get(kind, {}))
    photo = decoded(data)
    upright = image if turn == 1 else ImageOps.exif_transpose(_with_orientation(image, turn))
    assert photo.size_px == upright.size and photo.colour_side_px == 550
    assert alike(photo.grey, grey_of(upright), 2.0)
    half = photo.colour_at_least(photo.colour_side_px)
    assert half.shape == (upright.height // 2, upright.width // 2, 3)
    assert alike(half[:, :, ::-1], np.asarray(upright.reduce(2), dtype=np.float64), 4.0)
    assert kind == "JPEG" or not photo.data
    colours = FullColours(photo)
    part = np.asarray(upright.crop((410, 207, 710, 407)), dtype=np.float64)
    assert alike(colours.part(410, 207, 300, 200)[:, :, ::-1], part, 4.0)
    whole = np.asarray(upright.resize((upright.width // 5, upright.height // 5)), dtype=np.float64)
    assert alike(colours.whole((upright.width // 5, upright.height // 5))[:, :, ::-1], whole, 4.0)


def test_a_picture_that_is_too_large_is_refused_by_its_head(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of PNG too, whose reader decodes all of it to look for EXIF: 238 million pixels took a gigabyte."""
    monkeypatch.setattr(image_module, "MAX_PIXELS", 640 * 480 - 1)
    # set by what is tested: afterwards it is as before
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", Image.MAX_IMAGE_PIXELS)
    monkeypatch.setattr(PngImagePlugin.PngImageFile, "load", lambda self: pytest.fail("decoded"))
    for kind in ("PNG", "JPEG", "WEBP"):
        assert refused(encoded(picture(), kind)).code == "too-large"
