"""A canvas in ground coordinates: shapes, hatches, arrows and words drawn by Pillow alone, smooth at the edges."""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from screening.grid import Bounds
from screening.schema.styles import Style

FONTS = Path(__file__).parents[1] / "assets" / "fonts"
REGULAR, BOLD = FONTS / "DejaVuSans.ttf", FONTS / "DejaVuSans-Bold.ttf"
_OVERSAMPLE = 2
_JPEG_QUALITY = 84


@cache
def _font(size_px: int, *, is_bold: bool) -> Any:
    from PIL import ImageFont

    # The simple layout does not depend on what libraries Pillow was built with.
    return ImageFont.truetype(str(BOLD if is_bold else REGULAR), size_px, layout_engine=ImageFont.Layout.BASIC)


def rgb(color: str) -> tuple[int, int, int]:
    """Read `#rrggbb`.

    Examples
    --------
    >>> rgb("#0a1b2c")
    (10, 27, 44)
    """
    red, green, blue = (int(color[i : i + 2], 16) for i in (1, 3, 5))
    return red, green, blue


class Canvas:
    """A picture of a rectangle of ground, drawn twice as large as it is given out.

    Parameters
    ----------
    bounds
        Of the ground shown [m].
    width_px
        Of the picture; its height follows.
    """

    def __init__(self, bounds: Bounds, width_px: int) -> None:
        from PIL import Image

        west, south, east, north = bounds
        self.bounds = bounds
        self.width_px = width_px
        self.height_px = max(1, round(width_px * (north - south) / (east - west)))
        self._scale = width_px * _OVERSAMPLE / (east - west)
        self._image = Image.new("RGB", (width_px * _OVERSAMPLE, self.height_px * _OVERSAMPLE), (214, 214, 214))

    def _pixels(self, coordinates: Iterable[Sequence[float]]) -> list[tuple[float, float]]:
        west, _, _, north = self.bounds
        return [((at[0] - west) * self._scale, (north - at[1]) * self._scale) for at in coordinates]

    def _draw(self) -> Any:
        from PIL import ImageDraw

        return ImageDraw.Draw(self._image, "RGBA")

    def ground(self, grey: NDArray[np.uint8], bounds: Bounds) -> None:
        """Lay grey cells smoothly on the ground, under all else."""
        from PIL import Image

        (left, top), (wide, high) = self._frame(bounds)
        # As fine as the picture is given out: more would not be seen of what is smooth.
        small = (-(-wide // _OVERSAMPLE), -(-high // _OVERSAMPLE))
        smooth = Image.fromarray(grey).resize(small, Image.Resampling.BICUBIC)
        self._image.paste(smooth.resize((wide, high), Image.Resampling.NEAREST), (left, top))

    def raster(self, colors: NDArray[np.uint8], bounds: Bounds) -> None:
        """Lay cells on the ground as they are; `colors` has red, green, blue and opacity."""
        from PIL import Image

        place, size = self._frame(bounds)
        picture = Image.fromarray(colors).resize(size, Image.Resampling.NEAREST)
        box = picture.getchannel("A").getbbox()
        if box:
            seen = picture.crop(box)
            self._image.paste(seen, (place[0] + box[0], place[1] + box[1]), seen.getchannel("A"))

    def _frame(self, bounds: Bounds) -> tuple[tuple[int, int], tuple[int, int]]:
        """Upper left corner and size of a rectangle of ground [px]."""
        (left, top), (right, low) = self._pixels([(bounds[0], bounds[3]), (bounds[2], bounds[1])])
        size = (max(1, round(right) - round(left)), max(1, round(low) - round(top)))
        return (round(left), round(top)), size

    def area(self, shape: Any, style: Style) -> None:
        """Fill polygons, hatched where their style is, and draw their outline."""
        for polygon in _parts(shape, "Polygon"):
            if style.fill != "none" or style.pattern:
                self._fill(polygon, style)
            for ring in (polygon.exterior, *polygon.interiors):
                self.line(ring, style)

    def _fill(self, polygon: Any, style: Style) -> None:
        from PIL import Image, ImageDraw

        rings = [self._pixels(ring.coords) for ring in (polygon.exterior, *polygon.interiors)]
        left, top = (max(0, math.floor(min(at[i] for at in rings[0]))) for i in (0, 1))
        right = min(self._image.width, math.ceil(max(at[0] for at in rings[0])) + 1)
        low = min(self._image.height, math.ceil(max(at[1] for at in rings[0])) + 1)
        if right <= left or low <= top:
            return
        mask = Image.new("L", (right - left, low - top), 0)
        for number, ring in enumerate(rings):
            ImageDraw.Draw(mask).polygon([(x - left, y - top) for x, y in ring], fill=0 if number else 255)
        opacity = style.fill_opacity or 1.0
        if style.fill != "none":
            paper = mask.point(lambda value: round(value * opacity * (0.45 if style.pattern else 1.0)))
            self._image.paste(rgb(style.fill), (left, top, right, low), paper)
        if style.pattern:
            is_stripe = np.arange(top + left, low + right) % (9 * _OVERSAMPLE) < 2 * _OVERSAMPLE
            stripes = sliding_window_view(is_stripe, right - left)[: low - top] * np.asarray(mask)
            self._image.paste(rgb(style.color), (left, top, right, low), Image.fromarray(stripes))

    def line(self, shape: Any, style: Style, *, has_casing: bool = False) -> None:
        """Draw lines; `has_casing` puts a white edge under them."""
        width = max(1, round(style.weight * _OVERSAMPLE))
        for part in _parts(shape, "LineString"):
            points = self._pixels(part.coords)
            if has_casing:
                self._draw().line(points, fill=(255, 255, 255, 200), width=width + 3 * _OVERSAMPLE, joint="curve")
            pieces = _dashes(points, style.dash) if style.dash else [points]
            for piece in pieces:
                self._draw().line(piece, fill=rgb(style.color), width=width, joint="curve")

    def arrows(self, shape: Any, style: Style, *, every_px: float = 90.0) -> None:
        """Put heads on lines, the way that they run."""
        from shapely.geometry import LineString

        size = (4.0 + 1.4 * style.weight) * _OVERSAMPLE
        for part in _parts(shape, "LineString"):
            run = LineString(self._pixels(part.coords))
            for due in np.arange(every_px * _OVERSAMPLE / 2, run.length, every_px * _OVERSAMPLE):
                tail, tip = run.interpolate(due - size), run.interpolate(due + size)
                way = np.array([tip.x - tail.x, tip.y - tail.y]) / max(tail.distance(tip), 1e-9)
                at, side = np.array([run.interpolate(due).x, run.interpolate(due).y]), np.array([-way[1], way[0]])
                head = [
                    at + way * size,
                    at - way * size * 0.8 + side * size * 0.75,
                    at - way * size * 0.3,
                    at - way * size * 0.8 - side * size * 0.75,
                ]
                self._draw().polygon([tuple(corner) for corner in head], fill=rgb(style.color), outline=(255, 255, 255))

    def dot(self, place: Any, style: Style, *, radius_px: float = 6.0) -> None:
        """Draw a point as a disc."""
        (x, y), reach = self._pixels([(place.x, place.y)])[0], radius_px * _OVERSAMPLE
        self._draw().ellipse(
            (x - reach, y - reach, x + reach, y + reach),
            fill=rgb(style.fill),
            outline=rgb(style.color),
            width=2 * _OVERSAMPLE,
        )

    def words(self, text: str, place: Any, *, size_px: int = 15, is_bold: bool = False) -> None:
        """Write words on a white edge, in the middle of a place and inside of the picture."""
        font, edge = _font(size_px * _OVERSAMPLE, is_bold=is_bold), 3 * _OVERSAMPLE
        left, top, right, low = self._draw().textbbox((0, 0), text, font=font, stroke_width=edge)
        x, y = self._pixels([(place.x, place.y)])[0]
        x = min(max(x - (left + right) / 2, -left), self._image.width - right)
        y = min(max(y - (top + low) / 2, -top), self._image.height - low)
        self._draw().text((x, y), text, font=font, fill=(26, 26, 26), stroke_width=edge, stroke_fill=(255, 255, 255))

    def scale_bar(self, length_m: float, text: str) -> None:
        """Draw a bar of a length on the ground, with its length in words, low on the left."""
        left, low = 14.0 * _OVERSAMPLE, self._image.height - 14.0 * _OVERSAMPLE
        right = left + length_m * self._scale
        font = _font(20 * _OVERSAMPLE, is_bold=False)
        wide = max(right, left + self._draw().textlength(text, font=font))
        box = (left - 8 * _OVERSAMPLE, low - 38 * _OVERSAMPLE, wide + 8 * _OVERSAMPLE, low + 8 * _OVERSAMPLE)
        self._draw().rectangle(box, fill=(255, 255, 255, 225))
        ends = [(left, low - 6 * _OVERSAMPLE), (left, low), (right, low), (right, low - 6 * _OVERSAMPLE)]
        self._draw().line(ends, fill=(26, 26, 26), width=2 * _OVERSAMPLE)
        self._draw().text((left, low - 34 * _OVERSAMPLE), text, font=font, fill=(26, 26, 26))

    def north_arrow(self, turn_deg: float) -> None:
        """Draw where north is, up on the right; `turn_deg` clockwise from up."""
        x, y, reach = self._image.width - 30.0 * _OVERSAMPLE, 34.0 * _OVERSAMPLE, 18.0 * _OVERSAMPLE
        box = (x - 22 * _OVERSAMPLE, y - 26 * _OVERSAMPLE, x + 22 * _OVERSAMPLE, y + 42 * _OVERSAMPLE)
        self._draw().rectangle(box, fill=(255, 255, 255, 225))
        turn = math.radians(turn_deg)
        way = np.array([math.sin(turn), -math.cos(turn)])
        side = np.array([-way[1], way[0]])
        middle = np.array([x, y])
        head = [
            middle + way * reach,
            middle - way * reach * 0.8 + side * reach * 0.55,
            middle - way * reach * 0.4,
            middle - way * reach * 0.8 - side * reach * 0.55,
        ]
        self._draw().polygon([tuple(corner) for corner in head], fill=(26, 26, 26))
        font = _font(16 * _OVERSAMPLE, is_bold=True)
        self._draw().text((x, y + 20 * _OVERSAMPLE), "N", font=font, fill=(26, 26, 26), anchor="mt")

    def jpeg(self) -> bytes:
        """Give the picture, the same to the byte for the same drawing."""
        from PIL import Image

        held = io.BytesIO()
        small = self._image.resize((self.width_px, self.height_px), Image.Resampling.BOX)
        small.save(held, format="jpeg", quality=_JPEG_QUALITY, subsampling=0, optimize=True)
        return held.getvalue()


def _parts(shape: Any, kind: str) -> list[Any]:
    """Single lines or polygons of a shape, without what is empty."""
    if shape is None or shape.is_empty:
        return []
    if shape.geom_type == "LinearRing":
        return [shape]
    parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
    return [part for part in parts if part.geom_type == kind and not part.is_empty]


def _dashes(points: list[tuple[float, float]], dash: str) -> list[list[tuple[float, float]]]:
    on, off = (float(part) * _OVERSAMPLE for part in dash.split()[:2])
    x, y = np.array(points).T
    run = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    pieces = []
    for start in np.arange(0.0, run[-1], on + off):
        end = min(start + on, run[-1])
        first, last = np.searchsorted(run, start, side="right"), np.searchsorted(run, end, side="left")
        at = np.concatenate(([start], run[first:last], [end]))
        pieces.append(list(zip(np.interp(at, run, x).tolist(), np.interp(at, run, y).tolist(), strict=True)))
    return pieces
