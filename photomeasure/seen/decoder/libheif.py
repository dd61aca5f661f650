"""The part of libheif's C interface that decodes tiles (libheif 1.19: `heif_tiling.h`, `heif_properties.h`), in the wheel of pi-heif,
which has no name for it: it decodes whole pictures.
"""

from __future__ import annotations

import ctypes
from ctypes import POINTER, byref, c_char_p, c_int, c_size_t, c_uint8, c_uint32, c_void_p
from functools import cache

from PIL import Image

from photomeasure.seen.decoder.clibrary import Takes, functions_of

# enum heif_colorspace, heif_chroma and heif_channel for each of Pillow's modes
_KINDS = {"L": (2, 0, 0), "RGB": (1, 10, 10), "RGBA": (1, 11, 10)}
MODES = tuple(_KINDS)
_MIRRORED, _ROTATED = (int.from_bytes(name, "big") for name in (b"imir", b"irot"))
_MOST_TURNS = 8


class _Error(ctypes.Structure):
    _fields_ = (("code", c_int), ("subcode", c_int), ("message", c_char_p))


class Tiling(ctypes.Structure):
    """`heif_image_tiling`."""

    _fields_ = (
        ("version", c_int),
        *((name, c_uint32) for name in ("columns", "rows", "tile_width", "tile_height", "width", "height")),
        *((name, c_uint32) for name in ("top_offset", "left_offset")),
        ("more_dimensions", c_uint8),
        ("more_sizes", c_uint32 * 8),
    )


class _Options(ctypes.Structure):
    """The beginning of `heif_decoding_options`, which the library makes and frees."""

    _fields_ = (
        ("version", c_uint8),
        ("ignore_transformations", c_uint8),
        ("callbacks", c_void_p * 4),
        ("convert_hdr_to_8bit", c_uint8),
    )


_TAKES: Takes = {
    "heif_get_version_number_major": (c_int, ()),
    "heif_context_alloc": (c_void_p, ()),
    "heif_context_free": (None, (c_void_p,)),
    "heif_context_read_from_memory_without_copy": (_Error, (c_void_p, c_char_p, c_size_t, c_void_p)),
    "heif_context_get_primary_image_handle": (_Error, (c_void_p, POINTER(c_void_p))),
    "heif_image_handle_release": (None, (c_void_p,)),
    "heif_image_handle_get_item_id": (c_uint32, (c_void_p,)),
    "heif_image_handle_get_image_tiling": (_Error, (c_void_p, c_int, POINTER(Tiling))),
    "heif_image_handle_decode_image_tile": (
        _Error,
        (c_void_p, POINTER(c_void_p), c_int, c_int, c_void_p, c_uint32, c_uint32),
    ),
    "heif_item_get_transformation_properties": (c_int, (c_void_p, c_uint32, POINTER(c_uint32), c_int)),
    "heif_item_get_property_type": (c_int, (c_void_p, c_uint32, c_uint32)),
    "heif_item_get_property_transform_mirror": (c_int, (c_void_p, c_uint32, c_uint32)),
    "heif_item_get_property_transform_rotation_ccw": (c_int, (c_void_p, c_uint32, c_uint32)),
    "heif_decoding_options_alloc": (POINTER(_Options), ()),
    "heif_decoding_options_free": (None, (c_void_p,)),
    "heif_image_get_plane_readonly": (c_void_p, (c_void_p, c_int, POINTER(c_int))),
    "heif_image_get_width": (c_int, (c_void_p, c_int)),
    "heif_image_get_height": (c_int, (c_void_p, c_int)),
    "heif_image_release": (None, (c_void_p,)),
}


@cache
def library() -> ctypes.CDLL | None:
    """libheif as pi-heif has loaded it; None where its functions cannot be reached, or it is of another version."""
    try:
        import _pi_heif
    except ImportError:
        return None
    found = functions_of(_pi_heif.__file__, _TAKES)
    return found if found is not None and found.heif_get_version_number_major() == 1 else None


def _checked(error: _Error) -> None:
    if error.code:
        raise ValueError(error.message.decode("utf-8", "replace") if error.message else "it cannot be decoded")


class Opened:
    """A file's primary picture as one thread has it: libheif promises nothing for a file that several threads use. ValueError for
    what it cannot read."""

    def __init__(self, found: ctypes.CDLL, data: bytes) -> None:
        self._library, self._data = found, data  # which libheif does not copy
        self._handle, self._options = c_void_p(), None
        self._context = found.heif_context_alloc()
        _checked(found.heif_context_read_from_memory_without_copy(self._context, data, len(data), None))
        _checked(found.heif_context_get_primary_image_handle(self._context, byref(self._handle)))
        self._options = found.heif_decoding_options_alloc()
        self._options.contents.convert_hdr_to_8bit = 1
        self._options.contents.ignore_transformations = 1

    def __del__(self) -> None:
        if self._options is not None:
            self._library.heif_decoding_options_free(self._options)
        if self._handle:
            self._library.heif_image_handle_release(self._handle)
        self._library.heif_context_free(self._context)

    def tiling(self) -> Tiling:
        """Of the picture as it is stored."""
        tiling = Tiling()
        _checked(self._library.heif_image_handle_get_image_tiling(self._handle, 0, byref(tiling)))
        return tiling

    def turns(self) -> tuple[int, ...] | None:
        """How the picture is turned to be shown, one after the other, as EXIF's orientations; None where it is cropped too."""
        item, places = self._library.heif_image_handle_get_item_id(self._handle), (c_uint32 * _MOST_TURNS)()
        count = self._library.heif_item_get_transformation_properties(self._context, item, places, _MOST_TURNS)
        turns = []
        for place in places[: max(0, count)]:
            kind = self._library.heif_item_get_property_type(self._context, item, place)
            if kind == _MIRRORED:
                how = self._library.heif_item_get_property_transform_mirror(self._context, item, place)
                turn = {0: 4, 1: 2}.get(how)
            elif kind == _ROTATED:
                how = self._library.heif_item_get_property_transform_rotation_ccw(self._context, item, place)
                turn = {0: 1, 90: 8, 180: 3, 270: 6}.get(how)
            else:
                turn = None
            if turn is None:
                return None
            turns.append(turn)
        return tuple(turns)

    def tile(self, mode: str, column: int, row: int) -> Image.Image:
        """One tile as it is stored, in the mode that pi-heif has for the picture."""
        space, chroma, channel = _KINDS[mode]
        decoded, stride = c_void_p(), c_int()
        decode = self._library.heif_image_handle_decode_image_tile
        _checked(decode(self._handle, byref(decoded), space, chroma, self._options, column, row))
        try:
            plane = self._library.heif_image_get_plane_readonly(decoded, channel, byref(stride))
            width = self._library.heif_image_get_width(decoded, channel)
            height = self._library.heif_image_get_height(decoded, channel)
            if not plane or width < 1 or height < 1:
                raise ValueError("a tile without pixels")
            pixels = (c_uint8 * (stride.value * height)).from_address(plane)
            return Image.frombytes(mode, (width, height), bytes(pixels), "raw", mode, stride.value, 1)
        finally:
            self._library.heif_image_release(decoded)
