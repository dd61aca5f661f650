"""A measuring bay's surveyed markers, found in a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from calib.outcome.refusal import Refusal
from calib.words.said import said
from photomeasure.scene.scene import MarkerView

if TYPE_CHECKING:
    from photomeasure.asked.bay_file import Bay


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenMarkers:
    """Surveyed corners seen in one picture: names (N,), world_mm (N, 3), px (N, 2), sigma_px (N,)."""

    names: tuple[str, ...]
    world_mm: NDArray[np.float64]
    px: NDArray[np.float64]
    sigma_px: NDArray[np.float64]

    def view(self, photo: int, u_mm: float) -> MarkerView:
        return MarkerView(
            photo=photo, names=self.names, world_mm=self.world_mm, px=self.px,
            sigma_px=self.sigma_px, u_mm=u_mm,
        )  # fmt: skip


def find_markers(grey: NDArray[np.uint8], bay: Bay) -> SeenMarkers | Refusal:
    """The bay's markers in a grey picture; a marker that is seen twice is left out, as it cannot be told which is real. Refused without any."""
    from calib.survey.marker_sightings import markers_in  # few measure in a bay, and loading this takes a while

    surveyed = {marker.id: np.array(marker.corners_mm) for marker in bay.markers}
    seen = [marker for marker in markers_in(grey, bay.dictionary) if marker.id in surveyed]
    names = tuple(f"marker{marker.id}.{corner}" for marker in seen for corner in range(4))
    if not names:
        return Refusal(
            code="no-markers",
            reason=said(
                "None of the bay's {surveyed} markers ({dictionary}) was found in the picture.",
                surveyed=len(surveyed),
                dictionary=bay.dictionary,
            ),
            remedy=said(
                "Photograph so that markers of the bay are in view, sharp and not too small; check that the bay "
                "file belongs to this bay."
            ),
        )
    return SeenMarkers(
        names=names,
        world_mm=np.concatenate([surveyed[marker.id] for marker in seen]),
        px=np.concatenate([marker.corners_px for marker in seen]),
        sigma_px=np.concatenate([marker.sigma_px for marker in seen]),
    )
