"""Serving the page until Ctrl-C."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from socket import socket
from types import FrameType

import uvicorn
from starlette.applications import Starlette

from calib.outcome.errors import InputError
from calib.words.said import said
from photomeasure.web import log
from photomeasure.web.address import (
    allowed_hosts,
    announcement,
    announcement_behind_a_proxy,
    is_open,
    listen,
    new_token,
    public_address,
    shown_hosts,
    trusted_proxies,
)
from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.entry.password import Password
from photomeasure.web.leftovers import sweep
from photomeasure.web.patience import Patient
from photomeasure.web.served import Served
from photomeasure.web.store import Store
from photomeasure.web.telling import address_to_tell

_HALVES = " \N{LOWER HALF BLOCK}\N{UPPER HALF BLOCK}\N{FULL BLOCK}"
_AT_ONCE = 100  # connections; a browser keeps up to six


def serve(served: Served) -> int:
    """Print the address and serve; returns 0 when it was stopped. Raises InputError where it cannot be served."""
    log.hush_readers_of_forms()
    host, store = served.host, served.store
    public = None if served.public_url is None else public_address(served.public_url)
    trusted = None if served.behind_proxy is None else trusted_proxies(served.behind_proxy)
    password = None if served.password_file is None else Password.read_from(served.password_file)
    tell = None if served.tell is None else address_to_tell(served.tell)
    if tell is not None and store is None:
        raise InputError(
            said("--tell is given without --store."),
            expected=said("a store: only there customers send anything"),
            remedy=said("add --store FOLDER, or leave --tell out"),
        )
    if served.log is not None:
        log.log_to(served.log)
    listening = listen(host, served.port)
    kept = None if store is None else Store(store)
    token = new_token() if kept is None else kept.token()
    if password is None and store is not None:
        password = Password.kept_in(store)
    urls = [f"http://{name}:{listening.getsockname()[1]}/{token}/" for name in shown_hosts(host)]
    sweep()
    stopped_before = signal.signal(signal.SIGTERM, _stopped)
    hosts = allowed_hosts(host)
    if public is not None:
        urls.insert(0, f"{public.origin}/" if password is not None else f"{public.origin}/{token}/")
        hosts.append(public.host)
    app = page_app(
        token,
        hosts,
        cases=Cases(store=kept),
        origins=() if public is None else (public.origin,),
        password=password,
        told_apart=public is None or trusted is not None,
        tell=tell,
    )
    kept_in = None if store is None else str(store)
    words = announcement(host, urls, kept_in, password=password is not None)
    if public is not None:
        words = announcement_behind_a_proxy(urls, kept_in, password=password is not None)
    server = _Announced(
        configured(app, trusted), lambda: _announce(words, urls[0], square=is_open(host) or public is not None)
    )
    try:
        log.note("started")
        with _stopped_by_hanging_up(server):
            server.run(sockets=[listening])
    except (KeyboardInterrupt, SystemExit):
        pass  # uvicorn has stopped in order, and hands the signal on
    finally:
        log.note("stopped")
        signal.signal(signal.SIGTERM, stopped_before)
        listening.close()
    return 0


def configured(app: Starlette, trusted: str | None = None) -> uvicorn.Config:
    """How the page is served. trusted: proxies that are believed where a request comes from."""
    return uvicorn.Config(
        app,
        http=Patient,
        log_level="critical",  # what goes wrong is said by the guard, in one line
        access_log=False,
        server_header=False,
        proxy_headers=trusted is not None,
        forwarded_allow_ips=trusted,
        limit_concurrency=_AT_ONCE,
        timeout_graceful_shutdown=20,
        lifespan="on",
    )


@contextmanager
def _stopped_by_hanging_up(server: uvicorn.Server) -> Iterator[None]:
    """A terminal that is closed stops the page in order too, unless it was started so as to outlive its terminal."""
    hang_up = getattr(signal, "SIGHUP", None)
    if hang_up is None or signal.getsignal(hang_up) is signal.SIG_IGN:
        yield
        return

    def stop(number: int, frame: FrameType | None) -> None:
        server.should_exit = True

    before = signal.signal(hang_up, stop)
    try:
        yield
    finally:
        signal.signal(hang_up, before)


class _Announced(uvicorn.Server):
    """A server that says where it is once it is there: from then on Ctrl-C stops it in order, before it may be lost."""

    def __init__(self, config: uvicorn.Config, say: Callable[[], None]) -> None:
        super().__init__(config)
        self._say = say

    async def startup(self, sockets: list[socket] | None = None) -> None:
        await super().startup(sockets=sockets)
        if self.started:
            self._say()


def _announce(words: str, url: str, *, square: bool) -> None:
    print(words, flush=True)
    if square and sys.stdout.isatty() and _can_be_printed(_HALVES):
        print(qr_code(url), flush=True)


def _stopped(number: int, frame: FrameType | None) -> None:
    raise SystemExit(0)


def qr_code(url: str) -> str:
    """The address for the phone's camera, in half blocks: dark on light whatever the terminal's own colours."""
    import cv2
    import numpy as np

    dark = np.pad(np.asarray(cv2.QRCodeEncoder.create().encode(url)) < 128, 2)
    dark = np.pad(dark, ((0, len(dark) % 2), (0, 0)))
    rows = [
        "".join(_HALVES[2 * a + b] for a, b in zip(*pair, strict=True)) for pair in dark.reshape(-1, 2, dark.shape[1])
    ]
    return "\n".join(f"  \x1b[30;107m{row}\x1b[0m" for row in rows)


def _can_be_printed(text: str) -> bool:
    try:
        text.encode(sys.stdout.encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True
