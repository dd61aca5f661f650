"""The state in which a rig was photographed against the state that a band speaks of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Coupling = Literal["ball-50", "pin"]
COUPLINGS: tuple[Coupling, ...] = get_args(Coupling)  # what can be said of the coupling


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """The state in which the rig was photographed; None: not said."""

    coupled: bool | None = None
    laden: bool | None = None
    level_ground: bool | None = None
    level_control: bool | None = None
