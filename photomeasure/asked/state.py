"""The state in which a rig was photographed against the state that a band speaks of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Coupling = Literal["ball-50", "pin"]
COUPLINGS: tuple[Coupling, ...] = get_args(Coupling)  # what can be said of the coupling


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """The state in which the rig was photographed; None: not said, which is never taken for no.

    coupled: a trailer is connected. laden: as it is driven. level_ground: hard and flat from sheet to coupling.
    level_control: the vehicle keeps its height by itself, whatever is on it.
    """

    coupled: bool | None = None
    laden: bool | None = None
    level_ground: bool | None = None
    level_control: bool | None = None
