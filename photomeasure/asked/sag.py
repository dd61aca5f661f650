"""What was said of how far the ball sinks from the photographed state to the one that counts."""

from __future__ import annotations

from dataclasses import dataclass

from calib.outcome.errors import InputError
from calib.words.said import joined, said

# Limits either way within which such figures are known where nobody says more (judgement); a plan takes the typed ones.
BALL_LOAD_SHARE, STAND_MASS_KG, STAND_DROP_MM, LOAD_DROP_MM = 0.10, 2.0, 2.0, 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sag:
    """None: not said.

    ball_load_kg: with the trailer level, as it will be towed. stand_mass_kg, stand_drop_mm: somebody of that mass stood on
    the bar at the ball, and the ball went down so far; stand_u_mm, stand_with_height_mm2: where photographs tell it, its
    standard uncertainty and its covariance with the height of the ball without anybody on the bar.
    load_drop_mm: how far the vehicle's own load lowers the ball.
    """

    ball_load_kg: float | None = None
    stand_mass_kg: float | None = None
    stand_drop_mm: float | None = None
    load_drop_mm: float | None = None
    stand_u_mm: float | None = None
    stand_with_height_mm2: float = 0.0

    @property
    def of_the_trailer(self) -> bool:
        """Whether it tells how far the trailer's ball load lowers the ball."""
        return None not in (self.ball_load_kg, self.stand_mass_kg, self.stand_drop_mm)

    @property
    def text(self) -> str:
        """In words; empty where nothing was said."""
        parts = []
        if self.ball_load_kg is not None:
            parts.append(said("ball load {ball_load_kg:g} kg", ball_load_kg=self.ball_load_kg))
        if self.stand_drop_mm is not None and self.stand_mass_kg is not None:
            parts.append(
                said(
                    "{stand_drop_mm:g} mm down under {stand_mass_kg:g} kg on the bar",
                    stand_drop_mm=self.stand_drop_mm,
                    stand_mass_kg=self.stand_mass_kg,
                )
            )
        if self.load_drop_mm is not None:
            parts.append(said("{load_drop_mm:g} mm down when loaded", load_drop_mm=self.load_drop_mm))
        return joined(parts) if parts else ""


def check_sag(sag: Sag) -> None:
    """Raises InputError for a stand test of which one half is missing, and for one that no vehicle gives."""
    if (sag.stand_mass_kg is None) != (sag.stand_drop_mm is None):
        raise InputError(
            said("A stand test has a mass and a drop; one of the two is missing."),
            expected=said("the mass that stood on the bar (kg) and how far the ball went down (mm)"),
            remedy=said("give both, or neither"),
        )
    if sag.stand_mass_kg is not None and sag.stand_drop_mm is not None:
        stiffness_n_mm = 9.80665 * sag.stand_mass_kg / sag.stand_drop_mm
        if not 5.0 <= stiffness_n_mm <= 600.0:
            raise InputError(
                said(
                    "{stand_mass_kg:g} kg for {stand_drop_mm:g} mm is {stiffness_n_mm:.3g} N/mm at the ball.",
                    stand_mass_kg=sag.stand_mass_kg,
                    stand_drop_mm=sag.stand_drop_mm,
                    stiffness_n_mm=stiffness_n_mm,
                ),
                expected=said("5 to 600 N/mm"),
                remedy=said("check the mass (kg) and the drop (mm, not cm)"),
            )
