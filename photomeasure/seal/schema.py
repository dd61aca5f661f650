"""The seal of a case as a file: its records by digest, each linked to the one before it, all signed."""

from __future__ import annotations

import json
from codecs import BOM_UTF8
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from calib.outcome.files import is_file
from calib.outcome.reading import read_model
from calib.words.said import said

SCHEMA: Literal["photomeasure/seal/1"] = "photomeasure/seal/1"
LARGEST_BYTES = 50_000_000


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True)


class Entry(_Part):
    """One record. bytes_sha256: of its file; content_sha256: of what it says, however laid out; chain: links it to all before."""

    file: str
    rig: str | None
    bytes_sha256: str
    content_sha256: str
    photographs: list[str]
    chain: str


class Seal(_Part):
    """sealed: by the clock of the computer that made it. public_key, signature: base64 of 32 and 64 bytes.

    time_token: base64 of a time service's answer about all the rest (RFC 3161, DER), where one was asked.
    """

    schema_: Literal["photomeasure/seal/1"] = Field(alias="schema")
    case: str | None
    by: str | None
    sealed: str
    records: list[Entry]
    public_key: str
    signature: str
    time_token: str | None = None

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    def signed(self) -> dict[str, Any]:
        """All but the signature, and the trusted time that was put on top of it."""
        written: dict[str, Any] = self.model_dump(by_alias=True, mode="json")
        return {name: value for name, value in written.items() if name not in ("signature", "time_token")}

    def to_json(self) -> str:
        written = self.model_dump(by_alias=True, mode="json")
        if self.time_token is None:
            del written["time_token"]
        return json.dumps(written, indent=1, ensure_ascii=False) + "\n"


def is_seal(path: Path) -> bool:
    """Whether a file says that it is a seal; it may be broken all the same."""
    if not is_file(path):  # a pipe would be waited for
        return False
    try:
        with path.open("rb") as stream:
            head = stream.read(200)
    except OSError:
        return False
    return head.removeprefix(BOM_UTF8).lstrip().startswith(b"{") and b'"photomeasure/seal/' in head


def read_seal(path: Path) -> Seal:
    """A seal from its file; InputError names what is wrong."""
    return read_model(
        Seal,
        path,
        what=said("the seal"),
        no=lambda file: said("{path} is no sound seal", path=file),
        form=said("a seal's file"),
        expected=said("a file with schema {schema}, unchanged since it was made", schema=SCHEMA),
        remedy=said("ask the person who sealed the case for it again"),
        most_bytes=LARGEST_BYTES,
    )
