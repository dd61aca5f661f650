"""An honest "cannot measure": returned, never raised, so that a type checker catches a caller who forgets it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why no figure is given.

    code:    short, stable, lower-case with hyphens; for programs.
    reason:  what was seen, with numbers where there are any.
    remedy:  what the person can do next.
    """

    code: str
    reason: str
    remedy: str
