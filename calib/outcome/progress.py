"""How somebody who waits is told how far it is."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, float], None]  # what is being done, and the share that is done, 0 to 1
