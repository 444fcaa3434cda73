"""Colours stay apart for eyes that lack one kind of cone.

Simulation: Machado, Oliveira & Fernandes 2009, doi 10.1109/TVCG.2009.113, severity 1.0; their matrices, as the library
colorspacious 1.1.2 gives them (`machado_et_al_2009_matrix`), applied to linear sRGB (IEC 61966-2-1).
Distance: CIEDE2000 (ISO/CIE 11664-6), by scikit-image. 10 is common practice for areas that must not be mistaken for
each other: no published source; about 1 is a just noticeable difference side by side.
"""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from screening.schema import styles

MATRICES = {
    "full colour": np.eye(3),
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
}
APART = 10.0


def seen(color: str, matrix: object) -> np.ndarray:
    """CIELAB of a colour as it is seen."""
    coded = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    turned = np.clip(np.array(matrix) @ linear, 0.0, 1.0)
    again = np.where(turned <= 0.0031308, turned * 12.92, 1.055 * turned ** (1 / 2.4) - 0.055)
    return rgb2lab(again[np.newaxis, np.newaxis])[0, 0]


def distance(one: str, other: str, eyes: str) -> float:
    return float(deltaE_ciede2000(seen(one, MATRICES[eyes]), seen(other, MATRICES[eyes])))


def fills(looks: dict[str, styles.Style]) -> dict[str, str]:
    """Fill of each class that has one; hatched classes differ by their hatch."""
    return {name: look.fill for name, look in looks.items() if look.fill != "none" and not look.pattern}


@pytest.mark.parametrize("eyes", MATRICES)
@pytest.mark.parametrize("looks", [styles.EXPOSURE_STYLES, styles.DRIVEWAY_STYLES], ids=["structures", "driveways"])
def test_classes_of_one_layer_stay_apart(looks: dict[str, styles.Style], eyes: str) -> None:
    for one, other in combinations(fills(looks).values(), 2):
        assert distance(one, other, eyes) > APART, (one, other)


@pytest.mark.parametrize("eyes", MATRICES)
def test_depths_stay_apart_and_in_order(eyes: str) -> None:
    for one, other in pairwise(styles.DEPTH_COLORS):
        assert distance(one, other, eyes) > APART, (one, other)
    light = [seen(color, MATRICES[eyes])[0] for color in styles.DEPTH_COLORS]
    assert light == sorted(light, reverse=True)


@pytest.mark.parametrize("eyes", MATRICES)
def test_water_is_never_taken_for_a_building(eyes: str) -> None:
    buildings = [*fills(styles.EXPOSURE_STYLES).values(), *fills(styles.DRIVEWAY_STYLES).values()]
    for water in (*styles.DEPTH_COLORS, styles.FLOW_STYLES["largest"].color):
        for building in buildings:
            assert distance(water, building, eyes) > APART, (water, building)


@pytest.mark.parametrize("eyes", MATRICES)
def test_walls_by_exposure_stay_apart_on_their_buildings(eyes: str) -> None:
    shown = [styles.SIDE_STYLES[name].color for name in ("ponding", "run-on", "low")]
    for one, other in combinations(shown, 2):
        assert distance(one, other, eyes) > APART, (one, other)
