"""Which formats are opened at all, told by a file's first bytes and never by its name; every other is refused unopened.

A picture library opens whatever it has ever learnt to open, some of it by starting other programs (PostScript); nobody's
phone writes those.
"""

from __future__ import annotations

from typing import Literal

from calib.words.said import said

Format = Literal["JPEG", "PNG", "WEBP", "TIFF", "HEIF", "AVIF"]

HEAD_BYTES = 64
OPENED = said("JPEG, HEIC, AVIF, PNG, TIFF or WebP")

# signatures: ITU-T T.81 B.1.1.3 (SOI, then a marker), W3C PNG 5.2, TIFF 6.0 section 2 and BigTIFF, RFC 9649 (WebP)
_STARTS: tuple[tuple[bytes, Format], ...] = (
    (b"\xff\xd8\xff", "JPEG"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"II*\x00", "TIFF"),
    (b"MM\x00*", "TIFF"),
    (b"II+\x00", "TIFF"),
    (b"MM\x00+", "TIFF"),
)
# brands of ISO/IEC 23008-12 (HEIF) and of the AV1 Image File Format
_HEIF_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs", b"mif1", b"msf1"})
_AVIF_BRANDS = frozenset({b"avif", b"avis"})
_OTHERS: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", "a PDF"),
    (b"%!PS", "PostScript"),
    (b"\xc5\xd0\xd3\xc6", "PostScript"),
    (b"GIF8", "a GIF"),
    (b"BM", said("a bitmap (BMP)")),
    (b"DDS ", said("a texture (DDS)")),
    (b"PK\x03\x04", said("a ZIP archive")),
    (b"<", said("a web page or a drawing (HTML, SVG)")),
)


def format_of(head: bytes) -> Format | None:
    """The format that the first bytes of a file say, where it is one of those that are opened."""
    for start, name in _STARTS:
        if head.startswith(start):
            return name
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WEBP"
    if head[4:8] == b"ftyp":
        length = min(int.from_bytes(head[:4], "big"), len(head))
        brands = {head[8:12], *(head[at : at + 4] for at in range(16, length - 3, 4))}
        return "AVIF" if brands & _AVIF_BRANDS else "HEIF" if brands & _HEIF_BRANDS else None
    return None


def why_not(head: bytes) -> str:
    """What a file of no such format is, as far as its first bytes tell."""
    if head[4:8] == b"ftyp":
        return said("it is a video, or a picture of a kind that is not opened")
    found = next((what for start, what in _OTHERS if head.startswith(start)), None)
    return said("it is {found}, no photograph", found=found) if found else said("it is no picture in a known format")
