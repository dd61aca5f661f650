"""Sealing: digests of the records in their order, each linked to those before it, and one signature over everything."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.record.schema import read_record
from photomeasure.seal.digest import canonical, content_digest, sha256
from photomeasure.seal.keys import raw_public
from photomeasure.seal.schema import SCHEMA, Entry, Seal

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey


def make_seal(records: Sequence[Path], key: Ed25519PrivateKey, *, case: str | None, by: str | None) -> Seal:
    """The seal of these records, in their order. case, by: where they are not given, what all the records say alike.

    Raises InputError for a file that is no record, or two of one name.
    """
    case, by = case or _alike(records, "case"), by or _alike(records, "by")
    public = base64.b64encode(raw_public(key.public_key())).decode()
    head = {"schema": SCHEMA, "case": case, "by": by, "sealed": _now(), "public_key": public}
    entries: list[Entry] = []
    link = first_link(head, len(records))
    for path in records:
        stated = _said(path)
        if any(entry.file == stated["file"] for entry in entries):
            raise InputError(
                said("Two records are called {name}.", name=path.name),
                expected=said("a name of its own for every record of a case"),
                remedy=said("rename one: records are looked for by their names beside the seal"),
            )
        link = next_link(link, stated)
        entries.append(Entry(**stated, chain=link))
    unsigned = Seal.model_validate({**head, "records": entries, "signature": ""})
    signature = key.sign(canonical(unsigned.signed()))
    return unsigned.model_copy(update={"signature": base64.b64encode(signature).decode()})


def _alike(records: Sequence[Path], field: str) -> str | None:
    """What every record says of the case, where they all say the same."""
    asked = [read_record(path).asked for path in records]
    said = {None if part is None else getattr(part.case, field) for part in asked}
    only = said.pop() if len(said) == 1 else None
    return None if only is None else str(only)


def _said(path: Path) -> dict[str, Any]:
    """What a seal holds of one record."""
    record = read_record(path)
    data = path.read_bytes()
    content = content_digest(data)
    if content is None:
        raise InputError(
            said("{path} cannot be sealed: a key stands twice in it.", path=path),
            expected=said("a record as it was written"),
            remedy=said("measure again"),
        )
    return {
        "file": path.name,
        "rig": record.rig,
        "bytes_sha256": sha256(data),
        "content_sha256": content,
        "photographs": [photo.sha256 or "" for photo in record.photos],
    }


def first_link(head: dict[str, Any], count: int) -> str:
    """Where the chain begins: case, person, time, key and the number of records."""
    return sha256(canonical({**head, "count": count}))


def next_link(before: str, said: dict[str, Any]) -> str:
    """The link of a record: over the link before it and all that the seal holds of the record."""
    return hashlib.sha256(bytes.fromhex(before) + canonical(said)).hexdigest()


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
