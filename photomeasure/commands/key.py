"""`photomeasure key new`, `photomeasure key show`, `photomeasure seal`: a key of one's own, and the seal of a case."""

from __future__ import annotations

import sys
from pathlib import Path

from calib.outcome.errors import InputError
from calib.words.said import said, say, say_many


def new(folder: Path | None, locked: bool) -> int:
    """Make a key and say where it is; returns exit code 0. locked: ask for a passphrase. Raises InputError."""
    from photomeasure.seal.keys import key_folder, new_key

    private, public, digits = new_key(folder or key_folder(), _passphrase(twice=True) if locked else None)
    print(say("Private key:  {private}", private=private))
    print(say("Public key:   {public}", public=public))
    print(say("Fingerprint:  {digits}", digits=digits))
    print(
        say(
            "\nKeep the private key to yourself, and a copy of it in a safe place. Give the public key and its fingerprint to\n"
            "everybody who is to check your seals, on another way than the seals (a letterhead, a telephone, your web site)."
        )
    )
    return 0


def show(folder: Path | None) -> int:
    """Say which key is here; returns exit code 0. Raises InputError where there is none."""
    from photomeasure.seal.keys import PUBLIC_NAME, fingerprint, key_folder, load_public

    public = (folder or key_folder()) / PUBLIC_NAME
    print(say("Public key:   {public}", public=public))
    print(say("Fingerprint:  {digits}", digits=fingerprint(load_public(public))))
    return 0


def seal(
    records: tuple[Path, ...],
    out: Path,
    key: Path | None,
    case: str | None,
    by: str | None,
    time_service: str | None = None,
) -> int:
    """Seal records in their order; returns exit code 0. time_service: address of one, whose time goes in. Raises InputError."""
    from calib.outcome.files import check_output, write_output
    from photomeasure.seal.keys import PRIVATE_NAME, PUBLIC_NAME, key_folder, load_private
    from photomeasure.seal.make import make_seal

    check_output(out, "seal", records)
    elsewhere = [path for path in records if path.resolve().parent != out.resolve().parent]
    private = key or key_folder() / PRIVATE_NAME
    public = private.parent / PUBLIC_NAME
    loaded = load_private(private, lambda: _passphrase(twice=False))
    made = make_seal(records, loaded, case=case, by=by)
    if time_service is not None:
        from photomeasure.seal.trusted_time import stamped, told

        made = stamped(made, time_service)
    write_output(out, made.to_json(), records)
    count = len(made.records)
    print(
        say_many(
            "Sealed: {count} record: {listed}.",
            "Sealed: {count} records, in this order: {listed}.",
            count=count,
            listed=", ".join(e.file for e in made.records),
        )
    )
    if made.time_token is not None:
        time = told(made, None)
        print(
            say(
                "Trusted time: {time}, signed by {time_service}.",
                time=None if time is None else time.said,
                time_service=time_service,
            )
        )
    print(say("Written: {out}", out=out))
    print(
        say(
            "Anybody can check it: photomeasure verify {out} --public-key {key}",
            out=out,
            key=public if public.is_file() else PUBLIC_NAME,
        )
    )
    if elsewhere:
        print(say("Records are looked for beside the seal: keep them together, or name them to verify as well."))
    return 0


def _passphrase(*, twice: bool) -> str:
    """Asked for on a terminal, unseen. Raises InputError where there is none, or the two differ."""
    from getpass import getpass

    if not sys.stdin.isatty():
        raise InputError(
            said("The key's passphrase cannot be asked for."),
            expected=said("a terminal"),
            remedy=said("run it on a terminal"),
        )
    typed = getpass(say("Passphrase of the key: "))
    if twice and getpass(say("Once more: ")) != typed:
        raise InputError(said("The two passphrases differ."), expected=said("the same twice"), remedy=said("try again"))
    if not typed:
        raise InputError(said("The passphrase is empty."), expected=said("some characters"), remedy=said("try again"))
    return typed
