"""Context of the invented neighbourhood: soil map units, wells, septic fields, the culvert, rainfall."""

from __future__ import annotations

import numpy as np
import shapely
from sample_layout import N_COLS, N_ROWS, Lot, rectangle
from sample_terrain import culvert_uv, stream_bed
from shapely import LineString, Point, Polygon, box

# lot: place in the lot's frame (a along the street, b away from its centreline) [m]
WELLS_AB = {
    "TR-03": (8.0, 48.0),
    "TR-08": (0.0, 44.0),
    "TR-11": (-2.0, 16.0),
    "TR-17": (-10.0, 56.0),
    "TR-22": (10.0, 46.0),
}
SEPTIC_AB = {
    "TR-02": rectangle(-6.0, 6.0, 44.0, 50.0),
    "TR-05": rectangle(-12.0, 0.0, 45.0, 51.0),
    "TR-08": rectangle(-9.0, 3.0, 11.0, 17.0),
    "TR-16": rectangle(4.0, 16.0, 50.0, 57.0),
    "TR-24": rectangle(-10.0, 2.0, 41.0, 47.0),
}
CULVERT_DIAMETER_M = 0.6

SOILS = {
    "woodland": ("9900001", "BrD", "Brindlecote stony loam, 8 to 15 percent slopes", "C"),
    "upper_west": ("9900002", "TnC", "Tansyfield loam, 6 to 12 percent slopes", "B"),
    "upper_east": ("9900003", "LkC", "Larkspurgate loamy sand, 6 to 12 percent slopes", "A"),
    "lower_west": ("9900004", "QmB", "Quillmere silt loam, wet, 3 to 8 percent slopes", "B/D"),
    "lower_centre": ("9900005", "TnD", "Tansyfield loam, 8 to 15 percent slopes", "B"),
    "valley": ("9900006", "MwB", "Marlwick clay, 0 to 8 percent slopes", "D"),
    "lower_east": ("9900007", "Fx", "Filled land, Tansy Rise", None),
}

ARI_YEARS = (1, 2, 5, 10, 25, 50, 100, 200, 500, 1000)
GROWTH = (1.0, 1.20, 1.50, 1.76, 2.14, 2.47, 2.83, 3.23, 3.81, 4.30)
# duration label: depth at 1 year over the 24-hour depth, exponent on the growth factor
RAIN_SHAPE = {
    "5-min": (0.160, 0.70),
    "10-min": (0.250, 0.68),
    "15-min": (0.307, 0.68),
    "30-min": (0.410, 0.75),
    "60-min": (0.506, 0.82),
    "2-hr": (0.595, 0.88),
    "3-hr": (0.640, 0.90),
    "6-hr": (0.760, 0.94),
    "12-hr": (0.885, 0.97),
    "24-hr": (1.000, 1.00),
    "2-day": (1.160, 0.98),
    "3-day": (1.240, 0.97),
    "4-day": (1.320, 0.96),
    "7-day": (1.550, 0.92),
    "10-day": (1.770, 0.90),
    "20-day": (2.400, 0.84),
    "30-day": (2.950, 0.82),
    "45-day": (3.700, 0.80),
    "60-day": (4.400, 0.78),
}
RAIN_24_HR_1_YR_IN = 2.42


def street_line_v(u: np.ndarray) -> np.ndarray:
    return 262.0 + 9.0 * np.sin(2 * np.pi / 520.0 * (u - 60.0))


def soil_polygons() -> dict[str, Polygon]:
    """Seven map units that cover the raster; wavy boundaries, some of which cut through lots."""
    u = np.arange(-10.0, N_COLS + 11.0, 5.0)
    v = np.arange(-10.0, N_ROWS + 11.0, 5.0)
    whole = shapely.set_precision(box(-10.0, -10.0, N_COLS + 10.0, N_ROWS + 10.0), 0.01)  # no slivers

    def above(line_v: np.ndarray) -> Polygon:
        ring = [*zip(u, line_v, strict=True), (u[-1], 600.0), (u[0], 600.0)]
        return shapely.set_precision(Polygon(ring), 0.01).intersection(whole)

    def west_of(line_u: np.ndarray) -> Polygon:
        ring = [*zip(line_u, v, strict=True), (-50.0, v[-1]), (-50.0, v[0])]
        return shapely.set_precision(Polygon(ring), 0.01).intersection(whole)

    street = street_line_v(u)
    woodland = above(street + 66.0 + 7.0 * np.sin(u / 45.0))
    upper = above(street + 3.0 * np.sin(u / 30.0)).difference(woodland)
    lower = above(street - 82.0 + 6.0 * np.sin(u / 60.0)).difference(upper.union(woodland))
    west, centre = west_of(188.0 + 5.0 * np.sin(v / 14.0)), west_of(264.0 + 4.0 * np.sin(v / 12.0))
    low_west, clay = west_of(120.0 + 5.0 * np.sin(v / 13.0)), west_of(378.0 + 4.0 * np.sin(v / 15.0))
    units = {
        "woodland": woodland,
        "upper_west": upper.intersection(west),
        "upper_east": upper.difference(west),
        "lower_west": lower.intersection(low_west),
        "lower_centre": lower.intersection(centre).difference(low_west),
        "lower_east": lower.difference(clay),
    }
    units["valley"] = whole.difference(woodland.union(upper)).difference(
        units["lower_west"].union(units["lower_centre"]).union(units["lower_east"])
    )
    return {key: units[key] for key in SOILS}


def wells(lots: dict[str, Lot]) -> dict[str, Point]:
    out = {}
    for lot_id, (a, b) in WELLS_AB.items():
        frame = lots[lot_id].frame
        out[lot_id] = Point(frame.origin + a * frame.along + b * frame.out)
    return out


def septic_fields(lots: dict[str, Lot]) -> dict[str, Polygon]:
    return {lot_id: lots[lot_id].frame.polygon(ring) for lot_id, ring in SEPTIC_AB.items()}


def culvert() -> tuple[LineString, dict[str, float]]:
    """Culvert under the lane, drawn downstream, with inverts at the stream bed."""
    uv = culvert_uv()
    inverts = [round(float(stream_bed(u)) - 0.6, 2) for u in uv[:, 0]]
    sizes = {"invert_up_m": inverts[0], "invert_down_m": inverts[1], "diameter_m": CULVERT_DIAMETER_M}
    return LineString(uv), sizes


def three_figures(depth: float) -> str:
    return f"{depth:.3f}" if depth < 1 else f"{depth:.2f}" if depth < 10 else f"{depth:.1f}"


def rainfall_text(lat_deg: float, lon_deg: float) -> str:
    """Invented depths in the public point precipitation frequency layout."""
    head = [
        "Point precipitation frequency estimates (inches)",
        "NOAA Atlas 14 Volume 0 Version 0",
        "Data type: Precipitation depth",
        "Time series type: Partial duration",
        "Project area: invented sample, not a real project area",
        "Location name: invented sample, not a real station",
        "Station Name: -",
        f"Latitude: {lat_deg:.4f} Degree",
        f"Longitude: {lon_deg:.4f} Degree",
        "Elevation: 385 ft",
        "",
        "",
        "PRECIPITATION FREQUENCY ESTIMATES",
        "by duration for ARI (years):, " + ",".join(map(str, ARI_YEARS)),
    ]
    rows = []
    for label, (share, exponent) in RAIN_SHAPE.items():
        depths = [RAIN_24_HR_1_YR_IN * share * growth**exponent for growth in GROWTH]
        rows.append(f"{label}:, " + ",".join(map(three_figures, depths)))
    return "\n".join([*head, *rows, "", "Date/time (GMT):  Thu Jan  1 00:00:00 2026", ""])
