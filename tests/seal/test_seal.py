"""Whatever is changed in a sealed case is found, and it is said what: a table of tamperings, one a line."""

from __future__ import annotations

import base64
import json
import os
import shutil
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from calib.outcome.errors import InputError
from photomeasure.asked.case import Particulars
from photomeasure.asked.tape_said import TapeSaid
from photomeasure.record.measure_and_record import recorded
from photomeasure.seal.check import UNKNOWN, UNSEALED, check_seal
from photomeasure.seal.digest import canonical, content_digest
from photomeasure.seal.keys import PRIVATE_NAME, PUBLIC_NAME, load_private, load_public, new_key
from photomeasure.seal.make import _alike, make_seal
from photomeasure.seal.schema import is_seal, read_seal
from photomeasure.seal.trusted_time import _certificates
from tests.cli.test_look import run
from tests.sample_requests import sample_request

NAMES = ("truck 2.json", "truck 4.json")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two records with a tape, their photographs, a key, the seal."""
    place = tmp_path_factory.mktemp("case")
    for name, sample in zip(NAMES, ("within", "close-call"), strict=True):
        request = sample_request(sample, case=Particulars(rig=name.removesuffix(".json"), by="M. Hale"))
        photo = Path(shutil.copy(request.photos[0], place))
        _, record = recorded(
            sample_request(sample, photos=(photo,), case=request.case), tape=TapeSaid(reading_mm=402.0)
        )
        (place / name).write_text(record.to_json(), encoding="utf-8")
    new_key(place / "key", None)
    key = load_private(place / "key" / PRIVATE_NAME, lambda: "")
    seal = make_seal([place / name for name in NAMES], key, case="26-117", by="M. Hale")
    (place / "case.seal.json").write_text(seal.to_json(), encoding="utf-8")
    return place


@pytest.fixture
def case(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "case"))


def faults(case: Path, **more: Any) -> tuple[str, ...]:
    public = load_public(case / "key" / PUBLIC_NAME)
    return check_seal(read_seal(case / "case.seal.json"), case, public_key=public, **more).faults


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if isinstance(value, dict) and value:
        for name, inner in value.items():
            yield from leaves(inner, (*path, name))
    elif isinstance(value, list) and value:
        for number, inner in enumerate(value):
            yield from leaves(inner, (*path, number))
    else:
        yield path


def other(value: Any) -> Any:
    """A little other, of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value + 1
    if isinstance(value, str):
        return value[:-1] + ("x" if value[-1:] != "x" else "y")
    return "something" if value is None else ["something"]


def changed(file: Path, path: tuple[Any, ...], value: Any = None) -> None:
    written = json.loads(file.read_text(encoding="utf-8"))
    place = written
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = other(place[path[-1]]) if value is None else value
    file.write_text(json.dumps(written, indent=1) + "\n", encoding="utf-8")


def test_an_untouched_case_holds_and_every_field_of_a_record_that_is_changed_is_found(case: Path) -> None:
    assert faults(case) == ()
    record = case / NAMES[0]
    whole = record.read_bytes()
    every = list(leaves(json.loads(whole)))
    assert len(every) > 200
    for path in every:
        changed(record, path)
        assert faults(case) == (f"{NAMES[0]}: the record was changed since it was sealed.",), path
        record.write_bytes(whole)


def test_every_field_of_the_seal_that_is_changed_is_found(case: Path) -> None:
    seal = case / "case.seal.json"
    whole = seal.read_bytes()
    for path in leaves(json.loads(whole)):
        changed(seal, path)
        try:
            assert any("signature does not fit" in fault or "another key" in fault for fault in faults(case)), path
        except InputError as error:
            assert "no sound seal" in str(error)
        seal.write_bytes(whole)


def any_byte(case: Path) -> None:
    record = case / NAMES[1]
    record.write_bytes(record.read_bytes().replace(b'"tape"', b'"tApe"', 1))


def white_space(case: Path) -> None:
    record = case / NAMES[1]
    record.write_bytes(record.read_bytes() + b"\n")


def key_twice(case: Path) -> None:
    record = case / NAMES[1]
    record.write_bytes(record.read_bytes().replace(b"{", b'{"height_mm": 400.0,', 1))


def missing(case: Path) -> None:
    (case / NAMES[0]).unlink()


def swapped(case: Path) -> None:
    one, two = (case / name for name in NAMES)
    first, second = one.read_bytes(), two.read_bytes()
    one.write_bytes(second)
    two.write_bytes(first)


def in_seal(change: Callable[[dict[str, Any]], None]) -> Callable[[Path], None]:
    def tamper(case: Path) -> None:
        file = case / "case.seal.json"
        written = json.loads(file.read_text(encoding="utf-8"))
        change(written)
        file.write_text(json.dumps(written), encoding="utf-8")

    return tamper


def resigned(written: dict[str, Any]) -> None:
    """By a forger's own key, as carefully as can be: figures, chain and signature all fit one another."""
    from photomeasure.seal.make import first_link, next_link

    key = Ed25519PrivateKey.generate()
    written["public_key"] = base64.b64encode(key.public_key().public_bytes_raw()).decode()
    link = first_link(
        {name: written[name] for name in ("schema", "case", "by", "sealed", "public_key")}, len(written["records"])
    )
    for entry in written["records"]:
        link = next_link(link, {name: value for name, value in entry.items() if name != "chain"})
        entry["chain"] = link
    signed = {name: value for name, value in written.items() if name != "signature"}
    written["signature"] = base64.b64encode(key.sign(canonical(signed))).decode()


TAMPERINGS: dict[str, tuple[Callable[[Path], None], str]] = {
    "a byte of a record": (any_byte, "truck 4.json: the record was changed"),
    "white space of a record": (white_space, "truck 4.json: the file was written anew since it was sealed, although it says the same"),
    "a key put in twice": (key_twice, "truck 4.json: the record was changed"),
    "the figure": (lambda case: changed(case / NAMES[0], ("height_mm",)), "truck 2.json: the record was changed"),
    "the verdict": (lambda case: changed(case / NAMES[1], ("verdict",), "within"), "truck 4.json: the record was changed"),
    "the rule": (lambda case: changed(case / NAMES[0], ("asked", "rule", "title")), "truck 2.json: the record was changed"),
    "the tape": (lambda case: changed(case / NAMES[0], ("tape", "reading_mm")), "truck 2.json: the record was changed"),
    "the date": (lambda case: changed(case / NAMES[0], ("computed",), "2020-01-01T00:00:00+00:00"), "the record was changed"),
    "who measured": (lambda case: changed(case / NAMES[0], ("asked", "case", "by"), "A. Other"), "the record was changed"),
    "a photograph's digest": (lambda case: changed(case / NAMES[0], ("photos", 0, "sha256")), "the record was changed"),
    "a record taken away": (missing, "truck 2.json: this record of the case is missing"),
    "two records exchanged": (swapped, "truck 2.json: the record was changed"),
    "a record taken out of the seal": (in_seal(lambda s: s["records"].pop()), "a record was taken out, put in, or moved"),
    "records of the seal moved": (in_seal(lambda s: s["records"].reverse()), "a record was taken out, put in, or moved"),
    "the time of sealing": (in_seal(lambda s: s.update(sealed="2020-01-01T00:00:00+00:00")), "signature does not fit"),
    "the case's name": (in_seal(lambda s: s.update(case="26-118")), "signature does not fit"),
    "no signature": (in_seal(lambda s: s.update(signature="")), "signature does not fit"),
    "another key, signed anew": (in_seal(resigned), "another key than the public key that was given"),
}  # fmt: skip


@pytest.mark.parametrize("what", TAMPERINGS)
def test_what_was_done_to_a_case_is_found_and_named(what: str, case: Path) -> None:
    tamper, said = TAMPERINGS[what]
    tamper(case)
    assert any(said in fault for fault in faults(case)), faults(case)


def test_a_record_that_is_put_beside_the_others_is_not_in_the_seal(case: Path) -> None:
    extra = Path(shutil.copy(case / NAMES[0], case / "another.json"))
    assert faults(case, given=[case / NAMES[0], extra]) == ("another.json: this record is not in the seal.",)


def test_verify_says_all_that_and_measures_the_sealed_records_again(
    case: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(case)  # no untouched copy of the photograph nearby
    seal, public = case / "case.seal.json", case / "key" / PUBLIC_NAME
    code, said, _ = run("verify", seal, "--public-key", public)
    assert code == 0 and "SEAL HOLDS" in said and "Records that are the same: 2 of 2." in said and UNKNOWN in said
    assert "that of the public key given" in said and "2 records, case 26-117, by M. Hale, sealed" in said
    photo = case / "within.jpg"
    photo.write_bytes(photo.read_bytes() + b"\0")
    changed(case / NAMES[1], ("tape", "reading_mm"))
    code, said, _ = run("verify", seal, "--json", case / "verify.json")
    assert code == 3 and "SEAL BROKEN" in said and "is not the photograph that was measured" in said
    assert "compare it with the one that the signer gave you" in said
    written = json.loads((case / "verify.json").read_text(encoding="utf-8"))
    assert written["seals"][0]["sound"] is False and written["seals"][0]["faults"]


def test_a_report_of_all_that_lies_there_passes_over_the_seal(case: Path) -> None:
    """`report records/*.json`, as the README has it, also after the case was sealed."""
    files = sorted(case.glob("*.json"))
    assert case / "case.seal.json" in files
    code, _, _ = run("report", *files, "--csv", case / "case.csv")
    assert code == 0 and len((case / "case.csv").read_text(encoding="utf-8").splitlines()) == 3
    with pytest.raises(InputError, match="is no record"):
        run("report", case / "case.seal.json", "--csv", case / "none.csv")


def test_a_record_without_a_seal_is_said_to_have_none(case: Path) -> None:
    code, said, _ = run("verify", case / NAMES[0])
    assert code == 0 and UNSEALED in said


def test_the_command_seals_what_verify_checks_and_a_key_is_never_replaced(case: Path) -> None:
    (case / "case.seal.json").unlink()
    code, said, _ = run("key", "new", "--out", case / "own")
    assert code == 0 and "Fingerprint:" in said
    private = case / "own" / PRIVATE_NAME
    if os.name == "posix":
        assert stat.S_IMODE(private.stat().st_mode) == 0o600
    with pytest.raises(InputError, match="is there already"):
        run("key", "new", "--out", case / "own")
    assert said.split("Fingerprint:  ")[1].splitlines()[0] in run("key", "show", "--out", case / "own")[1]
    records = [case / name for name in NAMES]
    assert run("seal", *records, "--out", case / "s.seal.json", "--key", private, "--case", "26-117")[0] == 0
    seal = read_seal(case / "s.seal.json")
    assert [entry.file for entry in seal.records] == list(NAMES)
    assert seal.records[0].photographs == [json.loads(records[0].read_text())["photos"][0]["sha256"]]
    (case / "note.txt").write_text("no key\n")
    wrongs = ((PUBLIC_NAME, "no private key"), ("../note.txt", "no private key"), (f"../{NAMES[0]}", "too large"))
    for wrong, told in ((case / "own" / name, told) for name, told in wrongs):
        with pytest.raises(InputError, match=told):
            run("seal", *records, "--out", case / "t.seal.json", "--key", wrong)
    with pytest.raises(InputError, match="no public key"):
        run("verify", case / "s.seal.json", "--public-key", private)


def test_a_locked_key_needs_its_passphrase(tmp_path: Path) -> None:
    new_key(tmp_path, "correct horse")
    assert load_private(tmp_path / PRIVATE_NAME, lambda: "correct horse")
    with pytest.raises(InputError, match="not the key's passphrase"):
        load_private(tmp_path / PRIVATE_NAME, lambda: "battery staple")


def test_the_signature_is_that_of_the_standard() -> None:
    """RFC 8032, 7.1, test 2: message 72; what is used here signs and verifies as published there."""
    secret = bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")
    public = bytes.fromhex("3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c")
    signature = bytes.fromhex(
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    key = Ed25519PrivateKey.from_private_bytes(secret)
    assert key.public_key().public_bytes_raw() == public and key.sign(b"\x72") == signature
    Ed25519PublicKey.from_public_bytes(public).verify(signature, b"\x72")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), {"a": [-float("inf")]}])
def test_a_number_that_json_does_not_have_is_not_signed(value: Any) -> None:
    with pytest.raises(ValueError, match="JSON"):
        canonical(value)


def test_a_seal_says_of_the_case_what_all_its_records_say(made: Path) -> None:
    records = [made / name for name in NAMES]
    assert _alike(records, "by") == "M. Hale"
    assert _alike(records, "rig") is None and _alike(records[:1], "rig") == "truck 2"
    assert _alike(records, "place") is None


def test_the_canonical_form_does_not_hang_on_layout_or_order() -> None:
    assert canonical({"b": 1, "a": [1.5, "é", None]}) == '{"a":[1.5,"é",null],"b":1}'.encode()
    assert content_digest(b'{"a": 1, "b": 2}') == content_digest(b'{\n "b":2,\n "a":1}')
    assert content_digest(b'{"a": 1, "a": 2}') is None and content_digest(b"no JSON") is None


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device on this system")
def test_a_key_without_end_is_no_key() -> None:
    """It has no size; read whole, it took the machine's memory. The same of certificates of time services."""
    with pytest.raises(InputError, match="too large"):
        load_private(Path("/dev/zero"), str)
    with pytest.raises(InputError, match="too large"):
        load_public(Path("/dev/zero"))
    with pytest.raises(InputError, match="no certificates"):
        _certificates(Path("/dev/zero"))


def test_a_seal_with_a_mark_of_the_encoding_is_a_seal(case: Path) -> None:
    seal = case / "case.seal.json"
    seal.write_bytes(b"\xef\xbb\xbf" + seal.read_bytes())
    assert is_seal(seal) and read_seal(seal)
