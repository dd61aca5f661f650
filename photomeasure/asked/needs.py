"""What a person could still say, as codes: each door (command line, page, paper) has its own words for how it is said there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

Need = Literal[
    "bars", "bar-x", "bar-y", "coupled", "laden", "level-ground", "level-control",
    "centre", "which-ball", "ball-diameter", "camera", "other-profile", "kit",
]  # fmt: skip

# a refusal's code to what would help; refusals that only another photograph helps are not here
OF_REFUSALS: Mapping[str, tuple[Need, ...]] = {
    "no-centre": ("centre",),
    "ball-not-found": ("centre",),
    "ball-ambiguous": ("which-ball",),
    "centre-outside": ("centre",),
    "below-foot-line": ("centre",),
    "photos-contradict": ("centre",),
    "no-solution": ("camera",),
    "no-sheet": ("kit",),
    "ultra-wide": ("camera",),
    "profile-other-camera": ("other-profile",),
}
