"""Photographs that are read where a rig is measured: at an address of an object store, or under a path that workers share.

An address (`s3://bucket/yard/1.jpg`) is read by fsspec, which knows such stores by their scheme and takes the right to read
from the surroundings of the process that reads.
"""

from __future__ import annotations

from collections.abc import Iterable
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from calib.outcome.errors import InputError
from calib.outcome.plain_text import plain
from calib.words.said import said
from photomeasure.batch.addresses import is_address, scheme_of

_WHY_SIGNS = 300


def check_readers(places: Iterable[str]) -> None:
    """Raise InputError where this machine has nothing that reads such addresses."""
    for scheme in sorted({scheme_of(place) for place in places if is_address(place)}):
        lacking = lacks(scheme)
        if lacking is not None:
            what = said("Photographs at {scheme}:// cannot be read here: {lacking}.", scheme=scheme, lacking=lacking)
            raise unread(what, scheme)


def unread(what: str, scheme: str) -> InputError:
    """That photographs of a kind of store cannot be read, and what helps."""
    return InputError(
        what,
        expected=said("the extra for clusters, and what fsspec needs for that store"),
        remedy=said('pip install "photomeasure[cluster]" "fsspec[{scheme}]"', scheme=scheme),
    )


def lacks(scheme: str) -> str | None:
    """What is missing on this machine to read a scheme; None where nothing is."""
    if find_spec("fsspec") is None:
        return said("a package is not installed: fsspec")
    import fsspec

    try:
        fsspec.get_filesystem_class(scheme)
    except (ImportError, ValueError) as error:
        return plain(str(error), _WHY_SIGNS)
    return None


def fetched(place: str, shown: Path) -> bytes | None:
    """All bytes of a photograph at an address or a path; None where they are more than any photograph has.

    shown: what it is called where it cannot be read, which raises InputError.
    """
    from photomeasure.seen.image import read_file

    if not is_address(place):
        return read_file(Path(place), shown)
    try:
        return _at_address(place)
    except FileNotFoundError:
        why = said("there is nothing")
    except PermissionError:
        why = said("it may not be read")
    except (
        Exception
    ) as error:  # each store has errors of its own: no network, no credentials, a package that is missing
        why = plain(f"{type(error).__name__}: {error}", _WHY_SIGNS)
    raise InputError(
        said("Cannot read {address}: {why}.", address=place, why=why),
        expected=said("the address of a photograph"),
        remedy=said("check the address, and that the machine that measures may read there"),
    )


def _at_address(place: str) -> bytes | None:
    """Its size is asked for first, so that gigabytes are not moved for nothing."""
    import fsspec

    from photomeasure.seen.image import MAX_FILE_BYTES

    store, inner = fsspec.core.url_to_fs(place)
    about: dict[str, Any] = store.info(inner)
    if about.get("type", "file") != "file":
        raise OSError(said("it is a folder") if about["type"] == "directory" else said("it is no regular file"))
    if (about.get("size") or 0) > MAX_FILE_BYTES:
        return None
    data = bytes(store.cat_file(inner, start=0, end=MAX_FILE_BYTES + 1))
    return None if len(data) > MAX_FILE_BYTES else data
