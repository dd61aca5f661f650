"""What stands in a picture: meshes collected by material, handed to the path tracer as one scene."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import Any

import mitsuba as mi
import numpy as np

from scene.mesh import Array, Mesh, joined
from scene.noise import Bitmap, Surface

Recipe = Callable[[], dict[str, Any]]


def bitmap(rgb: Bitmap, *, nearest: bool = False, tile_mm: float | None = None) -> dict[str, Any]:
    """A texture of linear values; row 0 is the top (v = 1). With `tile_mm`, uv in millimetres repeats."""
    texture: dict[str, Any] = {
        "type": "bitmap",
        "bitmap": mi.Bitmap(np.ascontiguousarray(rgb[::-1], dtype=np.float32)),
        "raw": True,
        "filter_type": "nearest" if nearest else "bilinear",
        "wrap_mode": "clamp" if tile_mm is None else "repeat",
    }
    if tile_mm is not None:
        texture["to_uv"] = mi.ScalarTransform3f().scale(mi.ScalarPoint2f(1 / tile_mm, 1 / tile_mm))
    return texture


def coated(
    surface: Surface | tuple[float, float, float],
    *,
    roughness: float,
    metallic: float = 0.0,
    clearcoat: float = 0.0,
    specular: float = 0.5,
) -> Recipe:
    """The recipe of a painted, moulded or metal surface."""

    def make() -> dict[str, Any]:
        if isinstance(surface, Surface):
            colour = bitmap(surface.rgb, tile_mm=surface.tile_mm)
        else:
            colour = {"type": "rgb", "value": list(surface)}
        return {
            "type": "twosided",
            "bsdf": {
                "type": "principled",
                "base_color": colour,
                "roughness": roughness,
                "metallic": metallic,
                "specular": specular,
                "clearcoat": clearcoat,
                "clearcoat_gloss": 0.92,
            },
        }

    return make


def matt(surface: Surface | tuple[float, float, float]) -> Recipe:
    """The recipe of a purely diffuse surface."""

    def make() -> dict[str, Any]:
        if isinstance(surface, Surface):
            colour = bitmap(surface.rgb, tile_mm=surface.tile_mm)
        else:
            colour = {"type": "rgb", "value": list(surface)}
        return {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": colour}}

    return make


def printed(rgb: Bitmap) -> Recipe:
    """The recipe of a flat picture (H, W, 1 or 3), seen texel by texel: uv 0..1, v up."""

    def make() -> dict[str, Any]:
        return {"type": "twosided", "bsdf": {"type": "diffuse", "reflectance": bitmap(rgb, nearest=True)}}

    return make


def chromed(*, roughness: float = 0.06, metal: str = "Cr") -> Recipe:
    """The recipe of plated or polished metal."""

    def make() -> dict[str, Any]:
        return {
            "type": "twosided",
            "bsdf": {"type": "roughconductor", "material": metal, "alpha": roughness, "distribution": "ggx"},
        }

    return make


class Stage:
    """Parts by material name; `add` what stands there, then `built` once."""

    def __init__(self, materials: dict[str, Recipe]) -> None:
        self._materials = dict(materials)
        self._parts: defaultdict[str, list[Mesh]] = defaultdict(list)
        self._spheres: list[tuple[str, Array, float]] = []

    def define(self, name: str, recipe: Recipe) -> None:
        """One more material, or another one under a known name."""
        self._materials[name] = recipe

    def add(self, material: str, *meshes: Mesh, world_from: Array | None = None) -> None:
        """Put meshes of one material on the stage, moved by `world_from` (4, 4) if given."""
        if material not in self._materials:
            raise KeyError(f"no material {material!r}; there are {', '.join(sorted(self._materials))}")
        self._parts[material] += [mesh if world_from is None else mesh.moved(world_from) for mesh in meshes]

    def add_sphere(self, material: str, centre_mm: Array, radius_mm: float) -> None:
        """An exact sphere, not a mesh."""
        self._spheres.append((material, centre_mm, radius_mm))

    def borrow(self, other: Stage) -> None:
        """Everything that stands on another stage, with its materials."""
        self._materials.update(other._materials)
        for name, meshes in other._parts.items():
            self._parts[name] += meshes

    def built(self, light: dict[str, Any]) -> Any:
        """The path tracer's scene, lit by `light` (emitters' descriptions by name)."""
        scene: dict[str, Any] = {"type": "scene", **light}
        recipes = {name: mi.load_dict(self._materials[name]()) for name in self._used()}
        for name, meshes in self._parts.items():
            scene[f"mesh-{name}"] = _shape(name, joined(meshes), recipes[name])
        for number, (name, centre_mm, radius_mm) in enumerate(self._spheres):
            scene[f"sphere-{number}"] = {
                "type": "sphere",
                "center": [float(v) for v in centre_mm],
                "radius": float(radius_mm),
                "bsdf": recipes[name],
            }
        return mi.load_dict(scene)

    def _used(self) -> set[str]:
        return set(self._parts) | {name for name, _, _ in self._spheres}


def _shape(name: str, mesh: Mesh, bsdf: Any) -> Any:
    properties = mi.Properties()
    properties["bsdf"] = bsdf
    shape = mi.Mesh(
        name,
        len(mesh.points_mm),
        len(mesh.faces),
        props=properties,
        has_vertex_normals=True,
        has_vertex_texcoords=True,
    )
    values = mi.traverse(shape)
    values["vertex_positions"] = mesh.points_mm.astype(np.float32).ravel()
    values["vertex_normals"] = mesh.normals.astype(np.float32).ravel()
    values["vertex_texcoords"] = mesh.uv_mm.astype(np.float32).ravel()
    values["faces"] = mesh.faces.astype(np.uint32).ravel()
    values.update()
    return shape
