"""Light and finishes: how bright a point looks. Linear, 1 = a white diffuse surface under an open sky."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .camera import FloatArray, read_only
from .texture import look_up

Values = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """How a surface gives light back.

    albedo:  diffuse share.
    mirror:  share reflected head-on; edge: how much of Schlick's rise towards grazing is kept.
    mottle:  relative spread of the albedo; patchy: spread of the mirror share.
    lobe:    width of the sun's highlight.
    """

    albedo: float
    mirror: float = 0.0
    edge: float = 0.0
    mottle: float = 0.0
    patchy: float = 0.0
    lobe: float = 0.01


FINISHES = {
    "matt": Finish(albedo=1.0),  # for proofs: radiance = ambient light alone
    "chrome": Finish(albedo=0.03, mirror=0.62, edge=1.0, patchy=0.1, lobe=0.001),
    "black": Finish(albedo=0.035, mirror=0.03, edge=0.8, mottle=0.2, lobe=0.01),
    "painted": Finish(albedo=0.33, mirror=0.02, edge=0.6, mottle=0.1, lobe=0.03),
    "rusty": Finish(albedo=0.13, mottle=0.55, lobe=0.2),
    "greased": Finish(albedo=0.06, mirror=0.08, edge=1.0, mottle=0.6, patchy=0.9, lobe=0.02),
    "steel": Finish(albedo=0.18, mirror=0.06, edge=0.7, mottle=0.25, lobe=0.05),
    "body": Finish(albedo=0.42, mirror=0.04, edge=0.9, lobe=0.002),
    "rubber": Finish(albedo=0.03, mottle=0.25, lobe=0.2),
    "timber": Finish(albedo=0.36, mottle=0.3, lobe=0.2),
    "cloth": Finish(albedo=0.25, mottle=0.4, lobe=0.2),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShadowEdge:
    """The shadow of a long straight edge: everything on the far side of a plane that contains the sun."""

    point_mm: FloatArray
    normal: FloatArray  # (3,) unit, towards the shaded side
    softness_mm: float  # width of the penumbra

    def __post_init__(self) -> None:
        object.__setattr__(self, "point_mm", read_only(self.point_mm, (3,)))
        object.__setattr__(self, "normal", read_only(self.normal, (3,)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Light:
    """Sun and sky.

    sun_direction:   (3,) unit, towards the sun.
    sun, sky:        irradiance of either, as a share of the open sky's 1.
    sky_slope:       how much less light a face turned down gets (0: the same from all sides).
    dark_direction:  (3,) where a mirror sees the dark vehicle, or None.
    """

    sun_direction: FloatArray
    sun: float
    sky: float
    sky_slope: float = 0.35
    ground_albedo: float = 0.3
    dark_direction: FloatArray | None = None
    shadow: ShadowEdge | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "sun_direction", read_only(self.sun_direction, (3,)))


def ambient_only() -> Light:
    """The same light from everywhere: radiance is reflectance."""
    return Light(sun_direction=np.array([0.0, 0.0, 1.0]), sun=0.0, sky=1.0, sky_slope=0.0)


def edge_lit(light: Light, points: Values) -> Values | float:
    """Share of the sun that the shadow edge lets through at points (3, N)."""
    if light.shadow is None:
        return 1.0
    shadow = light.shadow
    depth = shadow.normal.astype(points.dtype) @ points - float(shadow.normal @ shadow.point_mm)
    s = np.clip(0.5 + depth / shadow.softness_mm, 0, 1)
    return np.asarray(1.0 - s * s * (3.0 - 2.0 * s))


def irradiance(light: Light, normal: Values, lit: Values | float) -> Values:
    """Diffuse light on faces with normals (3, N) or (3, 1); lit is the share of the sun that arrives."""
    ambient = light.sky * (1.0 - 0.5 * light.sky_slope * (1.0 - normal[2]))
    if light.sun == 0.0:
        return np.asarray(ambient)
    return np.asarray(ambient + light.sun * np.maximum(_along(normal, light.sun_direction), 0.0) * lit)


def environment(light: Light, direction: Values, lobe: float, lit: Values | float) -> Values:
    """What a mirror sees in unit directions (3, N): sky, ground, the dark vehicle, the sun."""
    up = direction[2]
    horizon = np.clip(0.5 + up * 8.0, 0, 1)
    sky = light.sky * (0.75 + 0.5 * np.maximum(up, 0))
    ground = light.ground_albedo * (light.sky + light.sun * max(float(light.sun_direction[2]), 0.0)) * (1.0 + 0.5 * up)
    seen = ground + horizon * (sky - ground)
    if light.dark_direction is not None:
        toward = _along(direction, light.dark_direction)
        dark = np.clip((toward - 0.45) * 12.0, 0, 1) * np.clip(4.0 - 6.0 * np.abs(up - 0.15), 0, 1)
        seen = seen * (1.0 - 0.9 * dark)
    if light.sun > 0.0:
        off = 1.0 - _along(direction, light.sun_direction)
        seen = seen + light.sun * min(0.08 / lobe, 60.0) * np.exp(-off / lobe) * lit
    return np.asarray(seen)


def shade(light: Light, finish: Finish, points: Values, normal: Values, view: Values, lit: Values | float) -> Values:
    """Radiance of points (3, N) with normals (3, N), seen along unit directions view (3, N)."""
    albedo: Values | float = finish.albedo
    if finish.mottle:
        albedo = albedo * np.maximum(1.0 + finish.mottle * _mottle(points), 0.1)
    out = albedo * irradiance(light, normal, lit)
    if finish.mirror or finish.edge:
        facing = -(view[0] * normal[0] + view[1] * normal[1] + view[2] * normal[2])
        grazing = np.clip(1.0 - facing, 0, 1)
        share: Values | float = finish.mirror
        if finish.patchy:
            share = share * np.clip(1.0 + finish.patchy * 1.5 * _mottle(points[::-1]), 0.0, 1.6)
        share = share + (1.0 - share) * finish.edge * grazing**5
        mirrored = view + 2.0 * facing * normal
        out = out + share * environment(light, mirrored, finish.lobe, lit)
    return np.asarray(out)


def _mottle(points: Values) -> Values:
    """Patchy noise in space, about -1 to 1."""
    return look_up("clouds", points[0] + 0.7 * points[2], points[1] - 0.6 * points[2], 0.25)


def _along(vectors: Values, direction: FloatArray) -> Values:
    """(N,) dot product, in the vectors' precision."""
    return np.asarray(np.asarray(direction, dtype=vectors.dtype) @ vectors)
