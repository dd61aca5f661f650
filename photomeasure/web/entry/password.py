"""The password of the dealer's pages: kept as an argon2id hash (RFC 9106), never as it was typed."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError, VerifyMismatchError

from calib.outcome.errors import InputError
from calib.outcome.files import write_atomic
from calib.words.said import said

SHORTEST, LONGEST = 12, 200  # signs: shorter ones are guessed, longer ones only keep the machine busy (judgement)
_FILE = "password"


class Password:
    """A hash in a file, read anew when the file changes, so that a new password holds at once; or one held in memory."""

    def __init__(self, *, path: Path | None = None, hashed: str = "") -> None:
        self._path, self._hashed = path, hashed
        self._hasher = PasswordHasher()

    @classmethod
    def kept_in(cls, folder: Path) -> Password | None:
        """The one that was set for a store; None where none was."""
        path = folder / _FILE
        return cls(path=path) if path.is_file() else None

    @classmethod
    def read_from(cls, file: Path) -> Password:
        """The first line of a file, as containers hand secrets in. Raises InputError."""
        try:
            with file.open(encoding="utf-8") as stream:
                line = stream.readline(LONGEST + 2).rstrip("\r\n")
        except (OSError, UnicodeDecodeError) as error:
            raise InputError(
                said(
                    "The password cannot be read from {file}: {why}.",
                    file=file,
                    why=getattr(error, "strerror", None) or said("it is no text"),
                ),
                expected=said("a text file with the password in its first line, readable by this program only"),
                remedy=said("name another file, or leave it out and set the password with --set-password"),
            ) from error
        return cls(hashed=PasswordHasher().hash(fit(line)))

    def _now(self) -> str:
        if self._path is None:
            return self._hashed
        try:
            return self._path.read_text(encoding="utf-8").strip()
        except OSError:
            return ""  # taken away: then nothing is right

    @property
    def edition(self) -> str:
        """Another one after each change: sessions of before end with it."""
        return hashlib.sha256(self._now().encode()).hexdigest()

    def right(self, typed: str) -> bool:
        """Whether it is this one. Takes a part of a second and 64 MiB, on purpose."""
        try:
            return self._hasher.verify(self._now(), typed[: LONGEST + 1])
        except (VerifyMismatchError, VerificationError, InvalidHashError):
            return False


def set_password(folder: Path, typed: str) -> None:
    """Keep the password of a store. Raises InputError where it is too short or cannot be written."""
    path = folder / _FILE
    hashed = PasswordHasher().hash(fit(typed))
    try:
        write_atomic(path, hashed + "\n")
        if os.name == "posix":
            path.chmod(0o600)
    except OSError as error:
        raise InputError(
            said("The password cannot be kept in {folder}: {strerror}.", folder=folder, strerror=error.strerror),
            expected=said("the folder that keeps the page's cases, writable by this user"),
            remedy=said("name it with --store, or set the password as the user who runs the page"),
        ) from error


def fit(typed: str) -> str:
    """The password as typed, where it is one. Raises InputError."""
    if SHORTEST <= len(typed) <= LONGEST and typed.isprintable():
        return typed
    raise InputError(
        said("That password has {signs} signs, or some that cannot be typed.", signs=len(typed))
        if len(typed) <= LONGEST
        else said("That password is too long."),
        expected=said(
            "{shortest} to {longest} letters, digits, spaces and signs: four or five words are easy to keep in mind",
            shortest=SHORTEST,
            longest=LONGEST,
        ),
        remedy=said("choose another one"),
    )
