"""Keys: Ed25519 (RFC 8032) by the cryptography library; the private one in PKCS 8, the public one in a file to give away."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.seal.digest import sha256

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

PRIVATE_NAME, PUBLIC_NAME = "seal-key.pem", "seal-key.pub.pem"
_LARGEST_BYTES = 20_000


def key_folder() -> Path:
    """Where this person's key lies, by the platform's convention."""
    from platformdirs import user_data_path

    return user_data_path("photomeasure", appauthor=False) / "keys"


def new_key(folder: Path, passphrase: str | None) -> tuple[Path, Path, str]:
    """Make a key; returns the private file, the public file and the fingerprint.

    The private file can be read by its owner only. Raises InputError where a key is there already: records that were
    sealed with it could not be told from forged ones if it were lost.
    """
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    private, public = folder / PRIVATE_NAME, folder / PUBLIC_NAME
    for path in (private, public):
        if path.exists():
            raise InputError(
                said("{path} is there already.", path=path),
                expected=said("a folder without a key"),
                remedy=said("use that key, or choose another folder for a second one"),
            )
    key = Ed25519PrivateKey.generate()
    locked = form.NoEncryption() if passphrase is None else form.BestAvailableEncryption(passphrase.encode())
    secret = key.private_bytes(form.Encoding.PEM, form.PrivateFormat.PKCS8, locked)
    shown = key.public_key().public_bytes(form.Encoding.PEM, form.PublicFormat.SubjectPublicKeyInfo)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _write_new(private, secret, 0o600)
        _write_new(public, shown, 0o644)
    except OSError as error:
        raise InputError(
            said("Cannot write a key into {folder}: {value}.", folder=folder, value=error.strerror or error),
            expected=said("a folder that exists or can be made, and may be written to"),
            remedy=said("choose another folder"),
        ) from error
    return private, public, fingerprint(raw_public(key.public_key()))


def _write_new(path: Path, data: bytes, mode: int) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    with os.fdopen(handle, "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def load_private(path: Path, ask: Callable[[], str]) -> Ed25519PrivateKey:
    """A private key; ask: for its passphrase, where it has one. Raises InputError."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    data = _read(path, said("photomeasure key new makes one"))
    try:
        key = load_pem_private_key(data, None)
    except TypeError:  # it is locked
        try:
            key = load_pem_private_key(data, ask().encode())
        except ValueError:
            raise InputError(
                said("That is not the key's passphrase."),
                expected=said("what was typed when it was made"),
                remedy=said("try again"),
            ) from None
    except ValueError:
        key = None
    if not isinstance(key, Ed25519PrivateKey):
        raise InputError(
            said("{path} is no private key for seals.", path=path),
            expected=said("an Ed25519 key in PEM form"),
            remedy=said("photomeasure key new"),
        )
    return key


def load_public(path: Path) -> bytes:
    """A public key's 32 bytes. Raises InputError."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    try:
        key = load_pem_public_key(
            _read(path, said("ask the person who sealed it for the file {public_name}", public_name=PUBLIC_NAME))
        )
    except ValueError:
        key = None
    if not isinstance(key, Ed25519PublicKey):
        raise InputError(
            said("{path} is no public key for seals.", path=path),
            expected=said("an Ed25519 key in PEM form, such as {public_name}", public_name=PUBLIC_NAME),
            remedy=said("ask the person who sealed it for that file; never for the private one"),
        )
    return raw_public(key)


def raw_public(key: Ed25519PublicKey) -> bytes:
    """The public key's 32 bytes (RFC 8032)."""
    return key.public_bytes_raw()


def fingerprint(public: bytes) -> str:
    """The first 16 bytes of the key's SHA-256, in groups that can be read out over a telephone."""
    digits = sha256(public)[:32]
    return " ".join(digits[i : i + 4] for i in range(0, len(digits), 4))


def _read(path: Path, remedy: str) -> bytes:
    try:
        with path.open("rb") as stream:  # a pipe, by which a password program hands a key over, does not say its size
            data = stream.read(_LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a null sign in the path
        raise InputError(
            said("Cannot open the key {path}: {value}.", path=path, value=getattr(error, "strerror", None) or error),
            expected=said("a key file (PEM)"),
            remedy=remedy,
        ) from error
    if len(data) > _LARGEST_BYTES:
        raise InputError(
            said("{path} is no key: it is too large.", path=path), expected=said("a key file (PEM)"), remedy=remedy
        )
    return data
