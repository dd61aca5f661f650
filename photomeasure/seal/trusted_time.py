"""Trusted time for a seal (RFC 3161): a time-stamping service signs the seal's digest together with its own clock's time.

Optional on both sides: without a service a seal's time is its maker's clock, and a seal with a token is checked without the
service. Needs the extra `seal-time` (rfc3161-client); only the digest of the seal ever leaves the computer.
"""

from __future__ import annotations

import base64
import binascii
import urllib.error
import urllib.request
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING, Any

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.seal.digest import canonical
from photomeasure.seal.schema import Seal

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

_PATIENCE_S = 20.0
_LONGEST_ANSWER_BYTES = 100_000  # tokens with a chain of certificates are 3-10 kB (judgement)
_LARGEST_ROOTS_BYTES = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class TrustedTime:
    """What a seal's token says. said: the service's time, ISO 8601; by: the service's name where its root was given;
    fault: what is wrong with it, else None."""

    said: str | None
    by: str | None
    fault: str | None


def stamped(seal: Seal, service: str) -> Seal:
    """The seal with a token of the service at this address (http or https). Raises InputError where none is to be had."""
    client = _client()
    request = client.TimestampRequestBuilder().data(_message(seal)).build()
    answer = _asked(service, request.as_bytes())
    try:
        response = client.decode_timestamp_response(answer)
        granted = client.PKIStatus(response.status) == client.PKIStatus.GRANTED
        right = granted and response.tst_info.nonce == request.nonce and _is_for(response, seal)
    except (ValueError, TypeError, AttributeError) as error:
        raise _no_token(service, said("its answer is no time stamp after RFC 3161")) from error
    if not right:
        raise _no_token(service, said("it refused") if not granted else said("its answer belongs to another request"))
    return seal.model_copy(update={"time_token": base64.b64encode(answer).decode()})


def told(seal: Seal, roots: Path | None) -> TrustedTime | None:
    """What the token says, checked against the roots (a PEM file) of the services that are trusted; None without a token.

    Without roots the token is held against the seal, but who signed it is not known. Raises InputError for a file that
    holds no certificates, or where the extra is missing.
    """
    if seal.time_token is None:
        return None
    client = _client()
    trusted = None if roots is None else _certificates(roots)
    try:
        response = client.decode_timestamp_response(base64.b64decode(seal.time_token, validate=True))
        when = response.tst_info.gen_time.astimezone(UTC).isoformat(timespec="seconds")
        fits = _is_for(response, seal)
    except (ValueError, TypeError, AttributeError, binascii.Error):
        return TrustedTime(
            said=None, by=None, fault=said("The trusted time in the seal cannot be read: it was changed.")
        )
    if not fits:
        return TrustedTime(
            said=when, by=None, fault=said("The trusted time belongs to another seal, or the seal was changed.")
        )
    if trusted is None:
        return TrustedTime(said=when, by=None, fault=None)
    try:
        client.VerifierBuilder(roots=list(trusted)).build().verify_message(response, _message(seal))
    except (client.VerificationError, ValueError):
        fault = said("The trusted time is not signed by a service whose root certificate was given.")
        return TrustedTime(said=when, by=None, fault=fault)
    return TrustedTime(said=when, by=_signer(response), fault=None)


def _signer(response: Any) -> str:
    """The name in the certificate that signed: the one that the signature itself points to."""
    from cryptography import x509

    (pointer,) = response.signed_data.signer_infos
    for encoded in response.signed_data.certificates:
        certificate = x509.load_der_x509_certificate(encoded)
        if certificate.issuer == pointer.issuer and certificate.serial_number == pointer.serial_number:
            return certificate.subject.rfc4514_string()
    return str(pointer.issuer.rfc4514_string())


def _message(seal: Seal) -> bytes:
    """What is stamped: everything of the seal, its signature too."""
    return canonical({**seal.signed(), "signature": seal.signature})


def _is_for(response: Any, seal: Seal) -> bool:
    """Whether the token's digest is the seal's (SHA-256 or SHA-512, whichever the token names)."""
    import hashlib

    length = len(response.tst_info.message_imprint.message)
    digest = {32: hashlib.sha256, 48: hashlib.sha384, 64: hashlib.sha512}.get(length)
    return digest is not None and bool(digest(_message(seal)).digest() == response.tst_info.message_imprint.message)


def _client() -> Any:
    try:
        import rfc3161_client
    except ImportError as error:
        raise InputError(
            said("Trusted time needs a part that is not installed (rfc3161-client)."),
            expected=said("the extra seal-time"),
            remedy=said("install it: pip install 'photomeasure[seal-time]', or seal without a time service"),
        ) from error
    return rfc3161_client


def _asked(service: str, query: bytes) -> bytes:
    if not service.lower().startswith(("http://", "https://")):
        raise InputError(
            said("{service} is no address of a time service.", service=service),
            expected=said("an address that begins with http:// or https://"),
            remedy=said("give the service's address for RFC 3161 requests"),
        )
    headers = {"Content-Type": "application/timestamp-query", "Accept": "application/timestamp-reply"}
    request = urllib.request.Request(service, data=query, headers=headers, method="POST")
    try:
        with urllib.request.urlopen(request, timeout=_PATIENCE_S) as answer:
            data: bytes = answer.read(_LONGEST_ANSWER_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "reason", None) or error
        raise _no_token(service, said("it cannot be reached ({reason})", reason=reason)) from error
    if len(data) > _LONGEST_ANSWER_BYTES:
        raise _no_token(service, said("its answer is far longer than a time stamp"))
    return data


def _no_token(service: str, why: str) -> InputError:
    return InputError(
        said("No trusted time from {service}: {why}.", service=service, why=why),
        expected=said("a time stamp after RFC 3161"),
        remedy=said("check the address, try later, or seal without it; nothing was written"),
    )


def _certificates(path: Path) -> list[Certificate]:
    from cryptography import x509

    try:
        with path.open("rb") as stream:
            data = stream.read(_LARGEST_ROOTS_BYTES + 1)
        if len(data) > _LARGEST_ROOTS_BYTES:
            raise ValueError("too large")
        found = x509.load_pem_x509_certificates(data)
    except (OSError, ValueError) as error:
        raise InputError(
            said("{path} holds no certificates that can be read.", path=path),
            expected=said("root certificates of time services (PEM)"),
            remedy=said("take the file that the service publishes for checking its time stamps"),
        ) from error
    return list(found)
