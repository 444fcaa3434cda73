"""Which cover is meant by the words of a layer, and by the classes of a land cover raster."""

from __future__ import annotations

from screening.schema.covers import CODE_OF, CONDITIONS, LAWN

NLCD_CLASSES: dict[int, str] = {
    11: "water",
    12: "water",
    21: "developed, open",
    22: "developed, low",
    23: "developed, medium",
    24: "developed, high",
    31: "fallow",
    41: "woods, good",
    42: "woods, good",
    43: "woods, good",
    51: "brush, good",
    52: "brush, good",
    71: "pasture, good",
    72: "pasture, good",
    73: "meadow",
    74: "meadow",
    81: "pasture, good",
    82: "row crops",
    90: "wetland",
    95: "wetland",
}
"""Cover by class of the National Land Cover Database (legend from memory; the pairing is common practice)."""


_OPEN_SPACE = "open space"
_DEFAULT_CONDITION = "good"
_WORDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("developed, open", ("developed open space",)),
    ("developed, low", ("developed low intensity",)),
    ("developed, medium", ("developed medium intensity",)),
    ("developed, high", ("developed high intensity",)),
    ("wetland", ("wetland", "wetlands", "marsh", "swamp", "bog")),
    ("driveway", ("driveway", "driveways")),
    ("gravel", ("gravel", "crushed stone")),
    ("roof", ("roof", "roofs", "building", "buildings", "structure", "structures")),
    (
        "paved",
        (
            "paved",
            "pavement",
            "asphalt",
            "concrete",
            "impervious",
            "parking",
            "road",
            "roads",
            "street",
            "sidewalk",
            "walk",
            "patio",
        ),
    ),
    ("commercial", ("commercial", "business")),
    ("industrial", ("industrial",)),
    ("woods-grass", ("woods-grass", "orchard", "tree farm")),
    ("woods", ("woods", "wood", "woodland", "forest", "trees", "tree", "tree canopy", "canopy")),
    ("brush", ("brush", "shrub", "shrubs", "scrub", "shrubland")),
    ("pasture", ("pasture", "range", "grassland", "hay", "grazing")),
    ("meadow", ("meadow",)),
    ("row crops", ("row crops", "crops", "cropland", "cultivated")),
    ("small grain", ("small grain",)),
    ("fallow", ("fallow", "barren", "bare soil", "bare earth", "bare")),
    ("newly graded", ("newly graded", "graded", "construction")),
    ("dirt", ("dirt",)),
    ("farmstead", ("farmstead",)),
    ("water", ("water", "pond", "lake", "river", "stream")),
    (_OPEN_SPACE, ("lawn", "lawns", "grass", "turf", "yard", "open space", "park", "cemetery", "garden")),
)


def cover_of_text(text: str) -> str | None:
    """Read a cover from words or a class number.

    Returns
    -------
    A name of `CODE_OF`, `LAWN`, or None where the words say no cover. Without a condition, lawns are in the
    condition of the criteria and all else is in good condition.

    Examples
    --------
    >>> cover_of_text("Deciduous forest"), cover_of_text("pasture (fair)"), cover_of_text("22"), cover_of_text("x")
    ('woods, good', 'pasture, fair', 'developed, low', None)
    """
    plain = " ".join(text.lower().replace("_", " ").split())
    if plain in CODE_OF:
        return plain
    if plain.removesuffix(".0").isdigit():
        return NLCD_CLASSES.get(int(plain.removesuffix(".0")))
    words = f" {''.join(letter if letter.isalnum() or letter == '-' else ' ' for letter in plain)} "
    words = f" {' '.join(words.split())} "
    stem = next((stem for stem, known in _WORDS if any(f" {word} " in words for word in known)), None)
    condition = next((condition for condition in CONDITIONS if f" {condition} " in words), None)
    if stem == _OPEN_SPACE and condition is None:
        return LAWN
    if stem is None or stem in CODE_OF:
        return stem
    return f"{stem}, {condition or _DEFAULT_CONDITION}"
