"""The yard's materials by name; what a rig may look like is chosen here, not in the parts."""

from __future__ import annotations

import numpy as np

from scene.noise import dusty, galvanised, rusty, timber
from scene.stage import Recipe, chromed, coated, matt

Colour = tuple[float, float, float]

PAINTS: dict[str, Colour] = {
    "white": (0.72, 0.73, 0.72),
    "red": (0.42, 0.035, 0.025),
    "blue": (0.03, 0.10, 0.30),
    "green": (0.04, 0.17, 0.09),
    "yellow": (0.72, 0.42, 0.03),
    "grey": (0.20, 0.21, 0.22),
    "black": (0.018, 0.018, 0.02),
}
FINISHES = ("chrome", "black", "rusty", "painted")


def materials(
    rng: np.random.Generator, *, paint: str, trailer_paint: str, finish: str, dust: float
) -> dict[str, Recipe]:
    """Every material of a scene. `finish` is the ball's; raises KeyError for an unknown paint or finish."""
    bar = rusty(rng, (0.022, 0.022, 0.024), rust=0.22)
    return {
        "paint": coated(dusty(rng, PAINTS[paint], dust=dust), roughness=0.38, clearcoat=1.0),
        "trailer-paint": coated(dusty(rng, PAINTS[trailer_paint], dust=dust), roughness=0.45, clearcoat=0.5),
        "glass": coated((0.012, 0.015, 0.018), roughness=0.05, specular=0.6),
        "plastic": coated(dusty(rng, (0.03, 0.03, 0.032), dust=dust), roughness=0.55),
        "rubber": coated(
            dusty(rng, (0.022, 0.022, 0.023), dust=min(1.0, dust + 0.25), tile_mm=900), roughness=0.75
        ),
        "chassis": coated(dusty(rng, (0.025, 0.025, 0.027), dust=0.5, tile_mm=1200), roughness=0.7),
        "bar": coated(bar, roughness=0.5, specular=0.4),
        "drawbar": coated(rusty(rng, PAINTS[trailer_paint], rust=0.10), roughness=0.45, clearcoat=0.4),
        "head": coated(rusty(rng, (0.03, 0.03, 0.032), rust=0.12), roughness=0.4, clearcoat=0.3),
        "zinc": coated(galvanised(rng), roughness=0.38, metallic=0.75),
        "bright": chromed(roughness=0.16, metal="Al"),
        "chain": coated((0.35, 0.35, 0.36), roughness=0.35, metallic=0.9),
        "ball": ball(rng, finish),
        "rim": coated(dusty(rng, (0.48, 0.48, 0.49), dust=0.5, tile_mm=700), roughness=0.4, metallic=0.35),
        "red-lamp": coated((0.42, 0.012, 0.010), roughness=0.12, clearcoat=1.0),
        "amber-lamp": coated((0.75, 0.22, 0.010), roughness=0.12, clearcoat=1.0),
        "clear-lamp": coated((0.62, 0.63, 0.64), roughness=0.12, clearcoat=1.0),
        "plate": coated((0.70, 0.68, 0.56), roughness=0.45),
        "timber": matt(timber(rng)),
        "card": matt((0.36, 0.25, 0.15)),
        "paper": matt((0.78, 0.78, 0.76)),
        "tape": coated((0.06, 0.19, 0.42), roughness=0.6),
        "hose": coated((0.02, 0.02, 0.02), roughness=0.45),
        "orange": coated(dusty(rng, (0.75, 0.16, 0.02), dust=0.3, tile_mm=600), roughness=0.55),
        "band": matt((0.75, 0.75, 0.75)),
    }


def ball(rng: np.random.Generator, finish: str) -> Recipe:
    """The ball's surface: chrome, black, rusty or painted."""
    makers = {
        "chrome": lambda: chromed(roughness=0.05),
        "black": lambda: coated(rusty(rng, (0.02, 0.02, 0.022), rust=0.04, tile_mm=120), roughness=0.3),
        "rusty": lambda: coated(
            rusty(rng, (0.16, 0.15, 0.14), rust=0.6, tile_mm=120), roughness=0.6, metallic=0.3
        ),
        "painted": lambda: coated(
            rusty(rng, (0.25, 0.26, 0.28), rust=0.1, tile_mm=120), roughness=0.4, clearcoat=0.5
        ),
    }
    return makers[finish]()
