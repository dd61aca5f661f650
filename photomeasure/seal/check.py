"""Checking a seal: signature, key, chain, then every record's bytes; each fault says what was changed and where."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from calib.outcome.files import is_file
from calib.words.said import said
from photomeasure.seal.digest import canonical, content_digest, sha256
from photomeasure.seal.keys import fingerprint
from photomeasure.seal.make import first_link, next_link
from photomeasure.seal.schema import Seal
from photomeasure.seal.trusted_time import TrustedTime, told

UNKNOWN = said(
    "A seal shows that nothing was changed since it was made, and with whose key it was made. It cannot "
    "know whether what was typed is true; its time is its maker's clock, unless a time service signed it."
)
UNSEALED = said(
    "No seal: a record whose figures were made up, photographs and all, or whose typed facts were "
    "changed together with its figures, would look the same here."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What came of a seal. faults: one sentence each; records: path of every sealed record that was found, by name;
    time: what a time service signed, None where none was asked."""

    seal: Seal
    fingerprint: str
    key_known: bool
    faults: tuple[str, ...]
    records: Mapping[str, Path]
    time: TrustedTime | None = None

    @property
    def sound(self) -> bool:
        return not self.faults


def check_seal(
    seal: Seal,
    folder: Path,
    *,
    given: Sequence[Path] = (),
    public_key: bytes | None = None,
    time_roots: Path | None = None,
) -> Checked:
    """Check a seal whose records lie in `folder` or among those given. public_key: the signer's, known from elsewhere;
    time_roots: root certificates of time services, for a seal with a trusted time."""
    public = _bytes(seal.public_key)
    faults = _signature_faults(seal, public, public_key)
    if not _chain_holds(seal):
        faults.append(said("The links between the records do not fit: a record was taken out, put in, or moved."))
    time = told(seal, time_roots)
    if time is None and time_roots is not None:
        faults.append(
            said("The seal holds no trusted time, although one was asked for: it was taken out, or never put in.")
        )
    elif time is not None and time.fault is not None:
        faults.append(time.fault)
    found: dict[str, Path] = {}
    for entry in seal.records:
        path = _where(entry.file, folder, given)
        named = entry.rig is not None and entry.rig != Path(entry.file).stem
        whose = f"{entry.file} ({entry.rig})" if named else entry.file
        data = _read(path)
        if path is None or data is None:
            faults.append(said("{whose}: this record of the case is missing.", whose=whose))
            continue
        found[entry.file] = path
        if sha256(data) == entry.bytes_sha256:
            continue
        if content_digest(data) == entry.content_sha256:
            faults.append(
                said("{whose}: the file was written anew since it was sealed, although it says the same.", whose=whose)
            )
        else:
            faults.append(said("{whose}: the record was changed since it was sealed.", whose=whose))
    sealed = {entry.file for entry in seal.records}
    faults += [
        said("{name}: this record is not in the seal.", name=path.name) for path in given if path.name not in sealed
    ]
    return Checked(
        seal=seal,
        fingerprint=fingerprint(public or b""),
        key_known=public_key is not None,
        faults=tuple(faults),
        records=found,
        time=time,
    )


def _signature_faults(seal: Seal, public: bytes | None, expected: bytes | None) -> list[str]:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    faults = []
    if expected is not None and public != expected:
        faults.append(said("The seal was made with another key than the public key that was given."))
    signature = _bytes(seal.signature)
    try:
        Ed25519PublicKey.from_public_bytes(public or b"").verify(signature or b"", canonical(seal.signed()))
    except (InvalidSignature, ValueError):
        faults.append(said("The signature does not fit: the seal itself was changed, or its key was."))
    return faults


def _chain_holds(seal: Seal) -> bool:
    head = {name: value for name, value in seal.signed().items() if name != "records"}
    try:
        link = first_link(head, len(seal.records))
        for entry in seal.records:
            link = next_link(link, entry.model_dump(mode="json", exclude={"chain"}))
            if link != entry.chain:
                return False
    except ValueError:
        return False
    return True


def _where(name: str, folder: Path, given: Sequence[Path]) -> Path | None:
    """The record's file: among those given, else beside the seal. A name with a folder in it leads nowhere."""
    if Path(name).name != name:
        return None
    named = next((path for path in given if path.name == name), folder / name)
    return named if is_file(named) else None


def _read(path: Path | None) -> bytes | None:
    try:
        return None if path is None else path.read_bytes()
    except OSError:
        return None


def _bytes(text: str) -> bytes | None:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError):
        return None
