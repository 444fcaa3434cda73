"""Colours and legend: yellow to brown for exposure, blue for water alone, a thick outline for the worst."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any

from screening.units import M_PER_FT, UnitSystem, format_value, shown_unit

INK = "#1a1a1a"
DEPTH_COLORS = ("#a9d3ee", "#63abd9", "#2f7fc0", "#14559a", "#082f66")
DEPTH_BREAKS_M: dict[UnitSystem, tuple[float, ...]] = {
    "metric": (0.1, 0.2, 0.4, 0.8),
    "us": tuple(feet * M_PER_FT for feet in (0.3, 0.6, 1.2, 2.4)),
}
"""Limits between depth classes [m], round in the unit that readers see."""
FLOW_BREAKS_M2: dict[UnitSystem, tuple[float, ...]] = {
    "metric": (1000.0, 4000.0, 20000.0),
    "us": tuple(square_feet * M_PER_FT**2 for square_feet in (10_000.0, 50_000.0, 200_000.0)),
}
"""Limits between classes of contributing area [m2]."""
_FLOW_WIDTHS_PX = (1.6, 2.6, 4.0, 6.0)
FLOW_CLASSES = ("least", "small", "large", "largest")


@dataclass(frozen=True)
class Style:
    """How a class of features is drawn; `pattern` names a hatch of the page, `shape` the swatch."""

    color: str
    weight: float
    fill: str = "none"
    fill_opacity: float = 0.0
    dash: str = ""
    pattern: str = ""
    shape: str = "area"

    def path_options(self) -> dict[str, Any]:
        """The style as the page's script reads it, without what is empty."""
        return {key: value for key, value in asdict(self).items() if value not in ("", "none", 0.0)}


@dataclass(frozen=True)
class LegendKey:
    """One line of the legend."""

    style: Style
    text: str

    @property
    def swatch(self) -> str:
        """Inline SVG of the class as the map draws it."""
        style = self.style
        fill = f"url(#{style.pattern})" if style.pattern else style.fill
        line = f'stroke="{style.color}" stroke-width="{min(style.weight, 5)}"'
        opacity = style.fill_opacity or 1
        line += f' stroke-dasharray="{style.dash}"' if style.dash else ""
        shapes = {
            "area": f'<rect x="4" y="4" width="28" height="14" fill="{fill}" fill-opacity="{opacity}" ',
            "line": '<line x1="2" y1="11" x2="34" y2="11" fill="none" ',
            "point": f'<circle cx="18" cy="11" r="7" fill="{fill}" ',
        }
        return (
            '<svg class="swatch" width="36" height="22" viewBox="0 0 36 22" aria-hidden="true">'
            f"{shapes[style.shape]}{line}/></svg>"
        )


EXPOSURE_STYLES: dict[str, Style] = {
    "ponding": Style(INK, 4.0, "#7a3e0c", 0.9),
    "run-on": Style("#5a3a08", 2.0, "#d9952f", 0.9),
    "low": Style("#6b6032", 1.2, "#fbf0b0", 0.9),
    "not assessed": Style("#4d4d4d", 1.2, "#ffffff", 0.9, dash="4 3", pattern="hatch-grey"),
}
SIDE_STYLES: dict[str, Style] = {
    "ponding": Style("#5a2a04", 7.0, shape="line"),
    "run-on": Style("#c47a14", 5.5, shape="line"),
    "low": Style("#8a8262", 2.5, shape="line"),
    "not assessed": Style("#4d4d4d", 2.0, dash="4 3", shape="line"),
}
ARRIVAL_STYLES = {"arrival": Style(INK, 2.0, "#ffe14d", 1.0, shape="point")}
DOOR_STYLES = {"door": Style(INK, 2.5, "#c9b8d6", 1.0, shape="point")}
EXPOSURE_WORDS = {
    "ponding": "water stands against it",
    "run-on": "much ground drains to its walls",
    "low": "low exposure",
    "not assessed": "not assessed",
}
SIDE_WORDS = {**EXPOSURE_WORDS, "run-on": "much ground drains to it"}
DRIVEWAY_STYLES: dict[str, Style] = {
    "most": Style(INK, 3.5, "#a8641c", 0.75),
    "some": Style("#5a3a08", 1.2, "#e6b96a", 0.7),
    "little": Style("#6b6032", 1.0, "#f7edc4", 0.7),
    "not assessed": Style("#4d4d4d", 1.0, "#ffffff", 0.7, dash="4 3", pattern="hatch-grey"),
}
EDGE_STYLES: dict[str, Style] = {
    "garage": Style("#7a3e0c", 7.0, shape="line"),
    "structure": Style("#7a3e0c", 7.0, dash="10 3", shape="line"),
    "neighbour": Style("#8d3f8f", 5.0, shape="line"),
    "street or neighbour": Style("#8d3f8f", 5.0, dash="6 4", shape="line"),
    "low spot": Style("#14559a", 5.0, shape="line"),
    "street": Style("#4d4d4d", 5.0, shape="line"),
    "lawn": Style("#5b7f3a", 5.0, shape="line"),
    "driveway": Style("#a8641c", 3.0, dash="2 4", shape="line"),
    "little": Style("#6b6032", 1.0, shape="line"),
}
EDGE_WORDS = {
    "garage": "to a garage",
    "structure": "to another structure",
    "neighbour": "to land beyond the lot",
    "street or neighbour": "beyond the lot, street or neighbour",
    "low spot": "to a low spot",
    "street": "to the street",
    "lawn": "to the lawn",
    "driveway": "to another driveway",
    "little": "next to nothing leaves here",
}
DRIVEWAY_ARROW_STYLES = {"arrow": Style(INK, 1.6, shape="line")}
LOW_POINT_STYLES = {
    "holds water": Style(INK, 2.0, "#2f7fc0", 1.0, shape="point"),
    "lowest ground": Style(INK, 2.0, "#ffffff", 1.0, shape="point"),
}
OTHER_STYLES = {"other": Style("#5c5c5c", 1.0, "#9a9a9a", 0.8)}
LOT_STYLES = {"lot": Style("#20262c", 2.2)}
ROAD_STYLES = {"road": Style("#8a8a8a", 0.8, "#bdbdbd", 0.55)}
SOIL_STYLES = {"soil": Style("#5f574d", 1.5, dash="2 4")}
ZONE_STYLES = {
    "candidate": Style("#245c2a", 2.0, "#ffffff", 0.9, pattern="hatch-green"),
    "soil not assessed": Style("#245c2a", 2.0, dash="5 4"),
}
LOW_SPOT_STYLES = {"low spot": Style("#082f66", 1.4, "#2f7fc0", 0.0)}
CATCHMENT_STYLES = {"contributing": Style("#40284f", 2.4, "#8a6a9c", 0.22, dash="8 4")}
FLOW_STYLES = {
    name: Style("#0b3f86", width, shape="line") for name, width in zip(FLOW_CLASSES, _FLOW_WIDTHS_PX, strict=True)
}
OVERFLOW_STYLES = {"overflow": Style("#0b3f86", 3.0, dash="2 6", shape="line")}
DRAIN_STYLES = {"drain": Style(INK, 2.5, dash="9 5", shape="line")}
BARRIER_STYLES = {"barrier": Style(INK, 3.5, shape="line")}
CHANGE_STYLE = Style(INK, 1.2, "#d9cfe0", 0.6, dash="2 2")
COLLECTION_STYLES = {"point": Style("#245c2a", 2.0, "#ffffff", 1.0, shape="point")}
ROUTE_STYLES = {
    "reachable": Style("#245c2a", 3.0, shape="line"),
    "not reachable": Style("#5f574d", 1.6, dash="3 5", shape="line"),
    "not assessed": Style("#5f574d", 1.6, dash="1 4", shape="line"),
    "over ground": Style("#0b3f86", 2.0, dash="2 6", shape="line"),
}
LINE_STYLES = {
    "first": Style("#7a1f5c", 6.0, shape="line"),
    "other": Style("#7a1f5c", 2.2, shape="line"),
}
OUTLET_STYLES = {
    "first": Style("#7a1f5c", 2.6, dash="2 5", shape="line"),
    "other": Style("#7a1f5c", 1.2, dash="1 6", shape="line"),
}
WELL_STYLES = {"well": Style(INK, 2.0, "#ffffff", 1.0, shape="point")}
SEPTIC_STYLES = {"septic": Style(INK, 1.8, "#ffffff", 0.5, dash="2 3")}
WETLAND_STYLES = {"wetland": Style("#14559a", 1.4, "#a9d3ee", 0.35, dash="6 2")}
UTILITY_STYLES = {"utility": Style(INK, 2.0, dash="10 3 2 3", shape="line")}
TREE_STYLES = {"tree": Style("#4b6b3a", 1.2, "#c4d6b0", 0.45)}


def depth_legend(units: UnitSystem, round_in: UnitSystem | None = None) -> tuple[LegendKey, ...]:
    """Classes of water depth, told in `units`, their limits round in `round_in`."""
    texts = _class_texts(DEPTH_BREAKS_M[round_in or units], "m", units)
    return tuple(
        LegendKey(Style("#333333", 1.0, color, 1.0), text) for color, text in zip(DEPTH_COLORS, texts, strict=True)
    )


def flow_legend(units: UnitSystem, round_in: UnitSystem | None = None) -> tuple[LegendKey, ...]:
    """Classes of contributing area, as line widths, told in `units`, their limits round in `round_in`."""
    texts = _class_texts(FLOW_BREAKS_M2[round_in or units], "m2", units)
    return tuple(LegendKey(style, text) for style, text in zip(FLOW_STYLES.values(), texts, strict=True))


def _class_texts(breaks: tuple[float, ...], unit: str, units: UnitSystem) -> list[str]:
    shown = [format_value(value, unit, units) for value in breaks]
    symbol = shown_unit(unit, units).symbol
    middle = [f"{low.removesuffix(symbol).strip()} to {high}" for low, high in pairwise(shown)]
    return [f"under {shown[0]}", *middle, f"over {shown[-1]}"]


def exposure_legend() -> tuple[LegendKey, ...]:
    """Classes of exposure of structures."""
    return tuple(LegendKey(style, EXPOSURE_WORDS[name]) for name, style in EXPOSURE_STYLES.items())


def side_legend() -> tuple[LegendKey, ...]:
    """Classes of exposure of the sides of structures."""
    return tuple(LegendKey(style, SIDE_WORDS[name]) for name, style in SIDE_STYLES.items())


def driveway_legend(flag_frac: float) -> tuple[LegendKey, ...]:
    """Classes of the share of a driveway's water that meets a wall."""
    most, half = f"{flag_frac * 100:.0f} %", f"{flag_frac * 50:.0f} %"
    texts = (f"{most} or more to a wall", f"{half} to {most}", f"under {half}", "not assessed")
    return tuple(LegendKey(style, text) for style, text in zip(DRIVEWAY_STYLES.values(), texts, strict=True))
