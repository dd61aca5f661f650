"""Where the page is to be found: a socket of our own, a token that can be typed, the machine's addresses, and all that in words."""

from __future__ import annotations

import ipaddress
import secrets
import socket
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from urllib.parse import urlsplit

from calib.outcome.errors import InputError
from calib.words.said import said, say, shown

# easily told apart and typed on a phone: 31 signs, 12 of them have 59 bits
SIGNS = "abcdefghjkmnpqrstuvwxyz23456789"
_LOCAL = ("127.0.0.1", "localhost", "[::1]")
_EVERYWHERE = ("0.0.0.0", "::")


def new_token() -> str:
    """Three groups of four signs, by the system's source of randomness."""
    signs = "".join(secrets.choice(SIGNS) for _ in range(12))
    return "-".join(signs[i : i + 4] for i in range(0, 12, 4))


def listen(host: str, port: int) -> socket.socket:
    """A listening socket; port 0: any that is free. Raises InputError."""
    if not 0 <= port <= 65535:
        raise InputError(
            said("--port is {port}.", port=port),
            expected=said("0 to 65535"),
            remedy=said("leave it out, and a free port is chosen"),
        )
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listening = socket.socket(family, kind, protocol)
    except (OSError, UnicodeError) as error:
        raise _cannot(host, port, error) from error
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen(64)
    except OSError as error:
        listening.close()
        raise _cannot(host, port, error) from error
    return listening


def _cannot(host: str, port: int, error: OSError | UnicodeError) -> InputError:
    why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return InputError(
        said("The page cannot be served at {host}, port {port}: {why}.", host=host, port=port, why=why),
        expected=said("an address of this machine and a port that is free"),
        remedy=said(
            "leave out --port for any free one; --host 127.0.0.1 is this machine only, 0.0.0.0 its network too"
        ),
    )


def is_open(host: str) -> bool:
    """Whether others than this machine can reach it."""
    return not (host in ("localhost", "::1") or host.startswith("127."))


def own_addresses() -> list[str]:
    """This machine's IPv4 addresses in its network, the one that leads outwards first; nothing is sent."""
    found: list[str] = []
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # an address for documentation (RFC 5737); a datagram socket only looks up the way there
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    with suppress(OSError):
        found += [str(row[4][0]) for row in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return [address for address in dict.fromkeys(found) if not address.startswith("127.")]


def shown_hosts(host: str) -> list[str]:
    """Hosts for the addresses to print, the best first."""
    if host in _EVERYWHERE:
        return own_addresses() or ["127.0.0.1"]
    return [f"[{host}]" if ":" in host else host]


def allowed_hosts(host: str) -> list[str]:
    """What a browser may call this machine by; everything else is turned away."""
    names = [socket.gethostname(), f"{socket.gethostname()}.local"] if is_open(host) else []
    return list(dict.fromkeys([*shown_hosts(host), *_LOCAL, *names]))


def announcement(host: str, urls: Sequence[str], store: str | None = None, *, password: bool = False) -> str:
    """What is printed when the page stands. store: the folder that keeps what is measured."""
    stop = _stop(store)
    if not is_open(host):
        return say("\nOpen this address in a browser on this machine:\n\n  {url}\n\n{stop}\n", url=urls[0], stop=stop)
    others = "".join(say("  or {url}\n", url=url) for url in urls[1:])
    opened = say(
        "\nType this address into the phone (in the same network), with all its letters:\n\n  {url}\n{others}",
        url=urls[0],
        others=others,
    )
    warning = (
        say(
            "WARNING: anyone in this network who has the password can use the page and see its photographs, and what is sent\n"
            "is not encrypted. Only in a network that you trust. {stop}",
            stop=stop,
        )
        if password
        else say(
            "WARNING: anyone in this network who has the address can use the page and see its photographs, and what is sent\n"
            "is not encrypted. Only in a network that you trust. {stop}",
            stop=stop,
        )
    )
    return f"{opened}\n{warning}\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicAddress:
    """origin: scheme, name and port as a browser sends it (RFC 6454, 6.2); host: the name alone."""

    origin: str
    host: str


def public_address(url: str) -> PublicAddress:
    """Where the page is reached through a proxy. Raises InputError."""
    try:
        parts = urlsplit(url.strip())
        port = parts.port
    except ValueError:
        parts, port = urlsplit(""), None
    name = (parts.hostname or "").lower()
    extra = parts.path not in ("", "/") or parts.query or parts.fragment or parts.username or parts.password
    if parts.scheme not in ("http", "https") or not name or extra or not name.isascii():
        raise InputError(
            said("--public-url {url} is not an address that the page can stand at.", url=repr(url)),
            expected=said(
                "scheme and name, and a port where it is not the usual one, without a path: https://heights.example"
            ),
            remedy=said("let the proxy give the page a name of its own; names with other letters in their xn-- form"),
        )
    host = f"[{name}]" if ":" in name else name
    usual = {"http": 80, "https": 443}[parts.scheme]
    return PublicAddress(origin=f"{parts.scheme}://{host}{'' if port in (None, usual) else f':{port}'}", host=host)


def trusted_proxies(typed: str) -> str:
    """Addresses or networks of proxies, as typed, with commas between them. Raises InputError, for "everybody" too: then anybody
    could say that he is somebody else."""
    for part in typed.split(","):
        try:
            network = ipaddress.ip_network(part.strip(), strict=False)
        except ValueError:
            network = None
        if network is None or network.prefixlen == 0:
            raise InputError(
                said("--behind-proxy {typed} names no proxy.", typed=repr(typed)),
                expected=said(
                    "the address from which the proxy asks, such as 127.0.0.1, or its own network, such as 172.18.0.0/16"
                ),
                remedy=said("look it up in the proxy's settings; on the same machine it is 127.0.0.1"),
            )
    return typed


def _stop(store: str | None) -> str:
    if store is None:
        return said("Ctrl-C stops it and removes what was uploaded.")
    return said("Ctrl-C stops it. What is measured is kept in {store}, until you remove it.", store=store)


def announcement_behind_a_proxy(urls: Sequence[str], store: str | None = None, *, password: bool = False) -> str:
    """The public address first, then where the proxy has to send what it gets."""
    own = "".join(f"  {url}\n" for url in urls[1:])
    who = say("Who has the password can use the page and see its photographs.")
    opened = say("People open this address:")
    if not password:
        who = say(
            "WARNING: no password is set. Anyone who has the address can use the page and see its photographs: set one with\n"
            "photomeasure serve --store FOLDER --set-password."
        )
        opened = say("People open this address, with all its letters:")
    handed = say("The proxy hands on to this machine, where the page stands at")
    return f"\n{opened}\n\n  {urls[0]}\n\n{handed}\n\n{own}\n{who} {shown(_stop(store))}\n"
