"""Every input row of the sample records has a name in every language."""

from __future__ import annotations

import pytest

from calib.words.language import speaking
from calib.words.said import shown
from photomeasure.scene.quantities import named


@pytest.mark.parametrize(
    ("quantity", "told"),
    [
        ("tag lie, turn", "Lage der Marke, Drehung"),
        ("principal point, across", "Bildhauptpunkt, quer"),
        ("distortion k2", "Verzeichnung k2"),
        ("focal length of photograph 3", "Brennweite von Foto 3"),
        ("principal point, down of camera 2", "Bildhauptpunkt, nach unten von Kamera 2"),
        ("focal length of camera 2, component 1", "Brennweite von Kamera 2, Komponente 1"),
        ("bar tag lie, before", "Lage der Stangenmarke, vorher"),
        ("what nobody named, turn", "what nobody named, turn"),
    ],
)
def test_a_part_of_a_quantity_is_named_by_both(quantity: str, told: str) -> None:
    assert named(quantity) == quantity
    with speaking("de"):
        assert shown(named(quantity)) == told
