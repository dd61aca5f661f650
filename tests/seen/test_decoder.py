"""What the decoder gives band by band is, pixel by pixel, what Pillow (or pi-heif) gives as a whole; and what it refuses to hold."""

from __future__ import annotations

import io
import subprocess
import sys
import tracemalloc
import zlib
from itertools import pairwise, product
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps, TiffImagePlugin

from calib.camera.turning import one_turn, turned_picture
from calib.outcome.refusal import Refusal
from photomeasure.seen import decoding_aside as aside_module
from photomeasure.seen import image as image_module
from photomeasure.seen.decoder.alike import signature
from photomeasure.seen.decoder.pieces import Pieces, Smaller, pieces_of
from photomeasure.seen.decoding_aside import Limits, OnDisk, decode_aside
from photomeasure.seen.image import Photo, load
from photomeasure.seen.jpeg import jpeg_in_scans

SIZE = (701, 403)
LIMITS = Limits(most_pixels=10**7, most_whole_pixels=10**7, small_pixels=10**7)


def picture(mode: str = "RGB", size: tuple[int, int] = SIZE) -> Image.Image:
    """Soft colours of its own everywhere."""
    rng = np.random.default_rng(5)
    small = Image.fromarray(rng.integers(0, 256, (30, 40, 3), dtype=np.uint8))
    return small.resize(size, Image.Resampling.BICUBIC).convert(mode)


def encoded(image: Image.Image, kind: str, **options: object) -> bytes:
    stream = io.BytesIO()
    image.save(stream, kind, **options)
    return stream.getvalue()


def put_together(pieces: Pieces) -> NDArray[np.uint8]:
    return np.vstack([np.asarray(band) for band in pieces.bands])


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


@pytest.mark.parametrize(
    "mode,compression",
    [
        *product(("L", "RGB", "RGBA", "CMYK", "I;16", "P"), ("raw", "tiff_lzw", "tiff_deflate", "packbits")),
        *product(("L", "RGB", "CMYK"), ("jpeg",)),
    ],
)
def test_tiff_by_strips(mode: str, compression: str) -> None:
    image = picture("L" if mode == "I;16" else mode)
    if mode == "I;16":
        image = Image.fromarray(np.asarray(image).astype(np.uint16) * 257)
    data = encoded(image, "TIFF", compression=compression)
    pieces = pieces_of(opened(data), None)
    assert not pieces.whole and pieces.size == SIZE
    bands = list(pieces.bands)
    assert len(bands) > 1 and {band.mode for band in bands} == {opened(data).mode}
    assert np.array_equal(
        np.vstack([np.asarray(band.convert("L")) for band in bands]), np.asarray(opened(data).convert("L"))
    )


@pytest.mark.parametrize("mode", ["L", "RGB", "RGBA"])
def test_png_by_rows(mode: str) -> None:
    """The encoder chooses another filter for each row."""
    data = encoded(picture(mode), "PNG")
    pieces = pieces_of(opened(data), None)
    assert not pieces.whole
    assert np.array_equal(put_together(pieces), np.asarray(opened(data)))


@pytest.mark.parametrize("mode", ["P", "1", "LA"])
def test_png_of_other_kinds_is_decoded_as_a_whole(mode: str) -> None:
    pieces = pieces_of(opened(encoded(picture(mode), "PNG")), None)
    assert pieces.whole and put_together(pieces).shape[:2] == SIZE[::-1]


def test_a_png_that_is_cut_short_has_no_end() -> None:
    data = encoded(picture(), "PNG")
    with pytest.raises((OSError, ValueError)):
        put_together(pieces_of(opened(data[: len(data) // 2]), None))


@pytest.mark.parametrize("sampling", ["4:2:0", "4:2:2", "4:4:4"])
@pytest.mark.parametrize("mode", ["RGB", "RGBA", "L"])
def test_avif_by_bands(mode: str, sampling: str) -> None:
    """Colours are interpolated between rows: at a band's edges too."""
    options = {} if mode == "L" else {"subsampling": sampling}
    data = encoded(picture(mode), "AVIF", speed=10, quality=80, **options)
    assert np.array_equal(put_together(pieces_of(opened(data), data)), np.asarray(opened(data)))


@pytest.mark.parametrize("turn", [1, 5, 6, *(pytest.param(turn, marks=pytest.mark.slow) for turn in (2, 3, 4, 7, 8))])
def test_heic_by_tiles(turn: int) -> None:
    """Its own turn is beside EXIF's; compared with what was encoded (both sides even, as phones have them)."""
    heif = pytest.importorskip("pillow_heif", reason="pillow-heif, the HEIC encoder of the tests, is not installed")
    image = picture(size=(1100, 800))
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = turn
    stream = io.BytesIO()
    heif.from_pillow(image).save(stream, quality=90, exif=exif.tobytes(), tile_size=512)
    pieces = pieces_of(_heic(stream.getvalue()), stream.getvalue())
    assert not pieces.whole and pieces.size == image.size and pieces.turns is not None
    image.getexif()[ExifTags.Base.Orientation] = turn
    upright = np.asarray(ImageOps.exif_transpose(image)).astype(float)
    found = turned_picture(put_together(pieces), one_turn(pieces.turns))
    assert found.shape == upright.shape and np.abs(found - upright).mean() < 2.0
    if turn == 1:
        assert np.array_equal(found, np.asarray(_heic(stream.getvalue())))


def _heic(data: bytes) -> Image.Image:
    import pi_heif

    pi_heif.register_heif_opener()
    return Image.open(io.BytesIO(data), formats=("HEIF",))


@pytest.mark.parametrize("factor", [1, 2, 3, 8])
def test_a_picture_made_smaller_by_bands(factor: int) -> None:
    """Of any heights, also where a block of pixels lies over two bands, and over three."""
    image, smaller, made = picture(), Smaller(factor), []
    tops = [0, 1, 2, 5, 100, 203, 210, 400, SIZE[1]]
    for top, bottom in pairwise(tops):
        part = smaller.of(image.crop((0, top, SIZE[0], bottom)))
        made += [] if part is None else [np.asarray(part)]
    last = smaller.last()
    made += [] if last is None else [np.asarray(last)]
    assert np.array_equal(np.vstack(made), np.asarray(image.reduce(factor)))


@pytest.mark.parametrize("kind", ["TIFF", "AVIF", "PNG"])
def test_a_large_file_is_read_by_the_decoder_alone(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "rig.bin"
    path.write_bytes(encoded(picture(), kind))
    sent = load(path)
    monkeypatch.setattr(image_module, "MOST_SENT_BYTES", 0)
    monkeypatch.setattr(image_module, "MOST_COLOUR_PIXELS", 10_000)
    left = load(path.rename(tmp_path / "left.bin"))
    assert isinstance(sent, Photo) and isinstance(left, Photo)
    assert left.sha256 == sent.sha256 and np.array_equal(left.grey, sent.grey)
    assert left.small and not left.data and len(sent.data) == left.path.stat().st_size


def test_a_file_that_changes_while_it_is_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The digest of the record has to be that of what was measured."""
    path = tmp_path / "rig.tif"
    path.write_bytes(encoded(picture(), "TIFF"))
    with path.open("rb") as file:
        seen = OnDisk(path=path, signature=tuple(signature(file)))
    assert decode_aside(seen, limits=LIMITS).error is None
    path.write_bytes(encoded(picture("L"), "TIFF"))
    assert decode_aside(seen, limits=LIMITS).error == "changed"
    path.unlink()
    assert decode_aside(seen, limits=LIMITS).error == "changed"
    monkeypatch.setattr(image_module, "decode_aside", lambda *_, **__: decode_aside(seen, limits=LIMITS))
    path.write_bytes(encoded(picture(), "TIFF"))
    found = load(path)
    assert isinstance(found, Refusal) and "changed" in found.reason


@pytest.mark.parametrize("kind", ["WEBP", "AVIF", "JPEG", "HEIF"])
def test_what_can_only_be_decoded_as_a_whole_is_refused_where_it_is_too_large(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By its head, with the reason; what is decoded piece by piece may be larger."""
    if kind == "HEIF":
        heif = pytest.importorskip("pillow_heif", reason="the HEIC encoder of the tests is not installed")
        heif.register_heif_opener()
    pixels = SIZE[0] * SIZE[1] - 1
    monkeypatch.setattr(image_module, "MAX_WHOLE_PIXELS", pixels)
    monkeypatch.setattr(
        image_module, "_LIMITS", Limits(most_pixels=10**7, most_whole_pixels=pixels, small_pixels=10**7)
    )
    options: dict[str, object] = {"progressive": True} if kind == "JPEG" else {}
    found = image_module.decode(Path("large.bin"), encoded(picture(), kind, **options))
    assert isinstance(found, Refusal) and found.code == "too-large" and "as a whole" in found.reason
    for other in ("JPEG", "PNG", "TIFF"):
        assert isinstance(image_module.decode(Path("large.bin"), encoded(picture(), other)), Photo)


@pytest.mark.skipif(sys.platform != "linux", reason="no such limit elsewhere")
def test_the_decoder_cannot_hold_more_than_its_limit() -> None:
    """Whatever a file makes a decoder ask for: it gets an error, or ends, and the photograph is refused."""
    script = (
        "from photomeasure.seen.decoder.serve import MOST_DATA_BYTES, bound\nbound()\nheld = bytearray(MOST_DATA_BYTES // 2)\n"
        "try:\n    bytearray(MOST_DATA_BYTES)\nexcept MemoryError:\n    print('refused')\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=Path(__file__).parents[2])
    assert done.stdout == "refused\n"


def test_a_jpeg_in_several_scans_is_known_by_its_head() -> None:
    """Progressive, or one colour after the other: of that no encoder is at hand, so a scan's head is made one of a single colour."""
    for options in ({}, {"subsampling": 0}, {"optimize": True}, {"exif": b"Exif\x00\x00" + bytes(500)}):
        data = encoded(picture(), "JPEG", **options)
        assert not jpeg_in_scans(data)
        scan = data.index(b"\xff\xda")
        assert data[scan + 4] == 3 and jpeg_in_scans(data[: scan + 4] + b"\x01" + data[scan + 5 :])
        assert not any(jpeg_in_scans(data[:cut]) for cut in range(0, scan, 7))
    assert jpeg_in_scans(encoded(picture(), "JPEG", progressive=True))
    assert not jpeg_in_scans(encoded(picture("L"), "JPEG"))


def test_an_answer_that_nobody_waited_for_is_not_the_next_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pixels of the picture before came with no error: a stop, or want of memory, while an answer is on its way."""
    dark, light = (encoded(Image.new("L", SIZE, level), "TIFF") for level in (50, 200))
    reading = aside_module._pixels

    def stopped(*_: object) -> NDArray[np.uint8]:
        raise MemoryError

    monkeypatch.setattr(aside_module, "_pixels", stopped)
    with pytest.raises(MemoryError):
        decode_aside(dark, limits=LIMITS)
    monkeypatch.setattr(aside_module, "_pixels", reading)
    found = decode_aside(light, limits=LIMITS)
    assert found.pixels is not None and (found.pixels == 200).all()


def test_tiff_with_an_editors_layers_is_not_decoded_with_them() -> None:
    """Tags that tell nothing of how pixels are decoded go with no band."""
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags.tagtype[37724] = 7
    tags[37724] = b"layer" * 20_000
    image = opened(encoded(picture(), "TIFF", compression="tiff_lzw", tiffinfo=tags))
    assert isinstance(image, TiffImagePlugin.TiffImageFile) and len(image.tag_v2[37724]) == 100_000
    first = next(iter(pieces_of(image, None).bands))
    assert isinstance(first, TiffImagePlugin.TiffImageFile) and 37724 not in first.tag_v2


def test_bits_said_once_for_all_samples() -> None:
    """As some writers do: Pillow reads it as meant."""
    image = opened(encoded(picture(), "TIFF"))
    assert isinstance(image, TiffImagePlugin.TiffImageFile)
    image.tag_v2.tagtype[258] = 3
    image.tag_v2[258] = (8,)
    assert np.array_equal(put_together(pieces_of(image, None)), np.asarray(picture()))


def test_what_is_held_at_once_counts_and_not_in_how_many_pieces() -> None:
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags.tagtype[278] = 4
    tags[278] = 300  # rows of a strip: two of them
    data = encoded(picture(), "TIFF", compression="tiff_lzw", tiffinfo=tags)
    assert pieces_of(opened(data), None).held_pixels == 300 * SIZE[0]
    strict = Limits(most_pixels=10**7, most_whole_pixels=299 * SIZE[0], small_pixels=10**7)
    assert decode_aside(data, limits=strict).error == "too-large-whole"
    assert decode_aside(encoded(picture(), "TIFF", compression="tiff_lzw"), limits=strict).pixels is not None


def test_what_stands_behind_a_png_picture_is_not_held() -> None:
    data = encoded(picture("L"), "PNG")
    rows = zlib.compress(zlib.decompress(_idat(data)) + bytes(30_000_000))
    longer = data[:33] + _chunk(b"IDAT", rows) + _chunk(b"IEND", b"")
    tracemalloc.start()
    found = put_together(pieces_of(opened(longer), None))
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert np.array_equal(found, np.asarray(picture("L"))) and most < 10_000_000


def _idat(data: bytes) -> bytes:
    at, found = 8, b""
    while at < len(data):
        length, name = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        found += data[at + 8 : at + 8 + length] if name == b"IDAT" else b""
        at += 12 + length
    return found


def _chunk(name: bytes, data: bytes) -> bytes:
    return len(data).to_bytes(4, "big") + name + data + zlib.crc32(name + data).to_bytes(4, "big")


@pytest.mark.parametrize("odd", [b"\xff\xd0", b"\xff\x01", b"\xff\xd8", b"\xff\xff", b"x"])
def test_a_progressive_jpeg_is_known_whatever_stands_in_its_head(odd: bytes) -> None:
    data = encoded(picture(), "JPEG", progressive=True)
    assert jpeg_in_scans(data[:2] + odd + data[2:])
    plain = encoded(picture(), "JPEG")
    assert not jpeg_in_scans(plain) and not (odd != b"x" and jpeg_in_scans(plain[:2] + odd + plain[2:]))
