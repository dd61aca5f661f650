"""The options of `serve`."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """Where and how the page is served. public_url: where people reach it through a proxy; store: the folder that keeps what is
    measured; behind_proxy: addresses of proxies that are believed where a request comes from;
    tell: an address that is told when something of a customer came."""

    host: str = "127.0.0.1"
    port: int = 0
    public_url: str | None = None
    store: Path | None = None
    password_file: Path | None = None
    behind_proxy: str | None = None
    log: str | None = None
    tell: str | None = None
