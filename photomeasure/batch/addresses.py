"""Addresses of photographs in a list of rigs: which there may be, and what stands for one."""

from __future__ import annotations

import re
from pathlib import Path

from calib.outcome.plain_text import steers
from calib.words.said import said

SCHEMES = ("s3", "gs", "abfs", "file")  # object stores of three kinds, and a folder that all machines have
MOST_SIGNS = 1_100  # keys of S3 have at most 1024 bytes
EXPECTED = said(
    "an address such as s3://bucket/yard/1.jpg ({schemes}), with no password in it",
    schemes=", ".join(f"{scheme}://" for scheme in SCHEMES),
)
_FORM = re.compile(r"(?P<scheme>[a-z0-9]+)://(?P<place>[^/@:]*)/(?P<key>.+)")


def is_address(text: str) -> bool:
    """Whether something is meant as an address, be it a good one or not."""
    return "://" in text


def address(text: str) -> str:
    """The same text, where it is an address that may be read. Raises ValueError otherwise.

    Nothing that makes two addresses of one photograph or two schemes of one address: no `..`, no `::`; no password, since
    the table shows it.
    """
    found = _FORM.fullmatch(text)
    if found is None or found["scheme"] not in SCHEMES or len(text) > MOST_SIGNS or steers(text) or "::" in text:
        raise ValueError(text)
    if bool(found["place"]) == (found["scheme"] == "file"):  # a file has no host, all others a bucket
        raise ValueError(text)
    if {"", ".", ".."} & set(found["key"].split("/")):
        raise ValueError(text)
    return text


def path_of(text: str) -> Path:
    """What stands for an address in a request: its last part is the photograph's name."""
    return Path(text)


def scheme_of(text: str) -> str:
    """Of an address: which kind of store."""
    return text.partition("://")[0]
