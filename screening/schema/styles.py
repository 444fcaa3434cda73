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


@dataclass(frozen=True, kw_only=True)
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
    "ponding": Style(color=INK, weight=4.0, fill="#7a3e0c", fill_opacity=0.9),
    "run-on": Style(color="#5a3a08", weight=2.0, fill="#d9952f", fill_opacity=0.9),
    "low": Style(color="#6b6032", weight=1.2, fill="#fbf0b0", fill_opacity=0.9),
    "not assessed": Style(
        color="#4d4d4d", weight=1.2, fill="#ffffff", fill_opacity=0.9, dash="4 3", pattern="hatch-grey"
    ),
}
SIDE_STYLES: dict[str, Style] = {
    "ponding": Style(color="#5a2a04", weight=7.0, shape="line"),
    "run-on": Style(color="#c47a14", weight=5.5, shape="line"),
    "low": Style(color="#8a8262", weight=2.5, shape="line"),
    "not assessed": Style(color="#4d4d4d", weight=2.0, dash="4 3", shape="line"),
}
INFLOW_POINT_STYLES = {"inflow_point": Style(color=INK, weight=2.0, fill="#ffe14d", fill_opacity=1.0, shape="point")}
DOOR_STYLES = {"door": Style(color=INK, weight=2.5, fill="#c9b8d6", fill_opacity=1.0, shape="point")}
EXPOSURE_WORDS = {
    "ponding": "water stands against it",
    "run-on": "much ground drains to its walls",
    "low": "low exposure",
    "not assessed": "not assessed",
}
SIDE_WORDS = {**EXPOSURE_WORDS, "run-on": "much ground drains to it"}
DRIVEWAY_STYLES: dict[str, Style] = {
    "most": Style(color=INK, weight=3.5, fill="#a8641c", fill_opacity=0.75),
    "some": Style(color="#5a3a08", weight=1.2, fill="#e6b96a", fill_opacity=0.7),
    "little": Style(color="#6b6032", weight=1.0, fill="#f7edc4", fill_opacity=0.7),
    "not assessed": Style(
        color="#4d4d4d", weight=1.0, fill="#ffffff", fill_opacity=0.7, dash="4 3", pattern="hatch-grey"
    ),
}
EDGE_STYLES: dict[str, Style] = {
    "garage": Style(color="#7a3e0c", weight=7.0, shape="line"),
    "structure": Style(color="#7a3e0c", weight=7.0, dash="10 3", shape="line"),
    "neighbour": Style(color="#8d3f8f", weight=5.0, shape="line"),
    "street or neighbour": Style(color="#8d3f8f", weight=5.0, dash="6 4", shape="line"),
    "low spot": Style(color="#14559a", weight=5.0, shape="line"),
    "street": Style(color="#4d4d4d", weight=5.0, shape="line"),
    "lawn": Style(color="#5b7f3a", weight=5.0, shape="line"),
    "driveway": Style(color="#a8641c", weight=3.0, dash="2 4", shape="line"),
    "little": Style(color="#6b6032", weight=1.0, shape="line"),
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
DRIVEWAY_ARROW_STYLES = {"arrow": Style(color=INK, weight=1.6, shape="line")}
LOW_POINT_STYLES = {
    "holds water": Style(color=INK, weight=2.0, fill="#2f7fc0", fill_opacity=1.0, shape="point"),
    "lowest ground": Style(color=INK, weight=2.0, fill="#ffffff", fill_opacity=1.0, shape="point"),
}
OTHER_STYLES = {"other": Style(color="#5c5c5c", weight=1.0, fill="#9a9a9a", fill_opacity=0.8)}
LOT_STYLES = {"lot": Style(color="#20262c", weight=2.2)}
ROAD_STYLES = {"road": Style(color="#8a8a8a", weight=0.8, fill="#bdbdbd", fill_opacity=0.55)}
SOIL_STYLES = {"soil": Style(color="#5f574d", weight=1.5, dash="2 4")}
ZONE_STYLES = {
    "candidate": Style(color="#245c2a", weight=2.0, fill="#ffffff", fill_opacity=0.9, pattern="hatch-green"),
    "soil not assessed": Style(color="#245c2a", weight=2.0, dash="5 4"),
}
LOW_SPOT_STYLES = {"low spot": Style(color="#082f66", weight=1.4, fill="#2f7fc0", fill_opacity=0.0)}
CATCHMENT_STYLES = {"contributing": Style(color="#40284f", weight=2.4, fill="#8a6a9c", fill_opacity=0.22, dash="8 4")}
FLOW_STYLES = {
    name: Style(color="#0b3f86", weight=width, shape="line")
    for name, width in zip(FLOW_CLASSES, _FLOW_WIDTHS_PX, strict=True)
}
OVERFLOW_STYLES = {"overflow": Style(color="#0b3f86", weight=3.0, dash="2 6", shape="line")}
DRAIN_STYLES = {"drain": Style(color=INK, weight=2.5, dash="9 5", shape="line")}
BARRIER_STYLES = {"barrier": Style(color=INK, weight=3.5, shape="line")}
CHANGE_STYLE = Style(color=INK, weight=1.2, fill="#d9cfe0", fill_opacity=0.6, dash="2 2")
COLLECTION_STYLES = {"point": Style(color="#245c2a", weight=2.0, fill="#ffffff", fill_opacity=1.0, shape="point")}
ROUTE_STYLES = {
    "reachable": Style(color="#245c2a", weight=3.0, shape="line"),
    "not reachable": Style(color="#5f574d", weight=1.6, dash="3 5", shape="line"),
    "not assessed": Style(color="#5f574d", weight=1.6, dash="1 4", shape="line"),
    "over ground": Style(color="#0b3f86", weight=2.0, dash="2 6", shape="line"),
}
LINE_STYLES = {
    "first": Style(color="#7a1f5c", weight=6.0, shape="line"),
    "other": Style(color="#7a1f5c", weight=2.2, shape="line"),
}
OUTLET_STYLES = {
    "first": Style(color="#7a1f5c", weight=2.6, dash="2 5", shape="line"),
    "other": Style(color="#7a1f5c", weight=1.2, dash="1 6", shape="line"),
}
WELL_STYLES = {"well": Style(color=INK, weight=2.0, fill="#ffffff", fill_opacity=1.0, shape="point")}
SEPTIC_STYLES = {"septic": Style(color=INK, weight=1.8, fill="#ffffff", fill_opacity=0.5, dash="2 3")}
WETLAND_STYLES = {"wetland": Style(color="#14559a", weight=1.4, fill="#a9d3ee", fill_opacity=0.35, dash="6 2")}
UTILITY_STYLES = {"utility": Style(color=INK, weight=2.0, dash="10 3 2 3", shape="line")}
TREE_STYLES = {"tree": Style(color="#4b6b3a", weight=1.2, fill="#c4d6b0", fill_opacity=0.45)}


def depth_legend(units: UnitSystem, round_in: UnitSystem | None = None) -> tuple[LegendKey, ...]:
    """Classes of water depth, told in `units`, their limits round in `round_in`."""
    texts = _class_texts(DEPTH_BREAKS_M[round_in or units], "m", units)
    return tuple(
        LegendKey(Style(color="#333333", weight=1.0, fill=color, fill_opacity=1.0), text)
        for color, text in zip(DEPTH_COLORS, texts, strict=True)
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
