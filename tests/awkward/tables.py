"""Awkward text inputs: rainfall tables, thresholds, classes of land cover."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from screening.site.samples import samples_dir
from tests.awkward.judging import REFUSED, Case

Make = Callable[[Path, dict[str, str]], dict[str, str | None]]
_PLAIN = (samples_dir() / "rainfall.csv").read_text(encoding="utf-8")


def _rain(change: Callable[[str], str | bytes], *, storm: str | None = None) -> Make:
    """A changed table beside a typed depth, or in its place."""

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        text = change(_PLAIN)
        (folder / "rain.csv").write_bytes(text if isinstance(text, bytes) else text.encode())
        rain: dict[str, str | None] = {"rain-mm": None, "storm": storm} if storm else {}
        return {"rainfall": str(folder / "rain.csv"), **rain}

    return make


def _criteria(text: str | bytes) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        (folder / "own.toml").write_bytes(text if isinstance(text, bytes) else text.encode())
        return {"criteria": str(folder / "own.toml")}

    return make


def _option(**options: str) -> Make:
    return lambda folder, plain: {"rain-mm": None, **{name.replace("_", "-"): text for name, text in options.items()}}


_R, _C = "rainfall", "criteria"
RAINFALL = [
    Case(_R, "plain", _rain(lambda text: text)),
    Case(_R, "UTF-16", _rain(lambda text: text.encode("utf-16"))),
    Case(_R, "Latin-1", _rain(lambda text: ("Ort: Höhe\n" + text).encode("latin-1"))),
    Case(_R, "line ends of old", _rain(lambda text: text.replace("\n", "\r"))),
    Case(_R, "semicolons and spare cells", _rain(lambda text: text.replace(",", ";").replace("\n", ";;\n"))),
    Case(_R, "empty", _rain(lambda text: ""), REFUSED),
    Case(_R, "noise", _rain(lambda text: bytes(range(256)) * 9), REFUSED),
    Case(_R, "a page of HTML", _rain(lambda text: "<html>Sorry</html>"), REFUSED),
    Case(_R, "no unit", _rain(lambda text: text.replace("(inches)", "").replace("inches", "")), REFUSED),
    Case(_R, "half a row", _rain(lambda text: text[: text.index("24-hr") + 20]), REFUSED),
    Case(_R, "words for numbers", _rain(lambda text: text.replace("24-hr:,", "24-hr:,heavy ")), REFUSED),
    Case(_R, "digits with an underscore", _rain(lambda text: text.replace("24-hr:,", "24-hr:,0_", 1)), REFUSED),
    Case(_R, "not a number", _rain(lambda text: text.replace("24-hr:,", "24-hr:,nan,", 1)), REFUSED),
    Case(_R, "without end", _rain(lambda text: text.replace("24-hr:,", "24-hr:,1e400,", 1)), REFUSED),
    Case(_R, "below 0", _rain(lambda text: text.replace("24-hr:,", "24-hr:,-", 1)), REFUSED),
    Case(_R, "twice", _rain(lambda text: text.replace("12-hr", "24-hr")), REFUSED),
    Case(_R, "a folder", lambda folder, plain: {"rainfall": str(folder)}, REFUSED),
    Case(_R, "a storm outside the table", _rain(lambda text: text, storm="5000yr-24h"), REFUSED),
    Case(_R, "a storm of no time", _rain(lambda text: text, storm="10yr-0h"), REFUSED),
    Case(_R, "a storm without a table", _option(storm="10yr-24h"), REFUSED, ("--rainfall",)),
    Case(_R, "a depth of NaN", _option(rain_mm="nan"), REFUSED),
    Case(_R, "a depth without end", _option(rain_mm="inf"), REFUSED),
    Case(_R, "a depth below 0", _option(rain_mm="-5"), REFUSED),
    Case(_R, "a depth of 1e300 in", _option(rain_in="1e300"), REFUSED),
]
CRITERIA = [
    Case(_C, "with a mark", _criteria(b"\xef\xbb\xbfsetback_well_m = 40\n")),
    Case(_C, "in a table", _criteria("[setbacks]\nsetback_well_m = 40.0\n")),
    Case(_C, "empty", _criteria("")),
    Case(_C, "Latin-1", _criteria("# Höhe\nsetback_well_m = 40\n".encode("latin-1")), REFUSED),
    Case(_C, "no TOML", _criteria("setback_well_m: 40"), REFUSED),
    Case(_C, "unknown", _criteria("setback_wel_m = 40.0"), REFUSED, ("setback_well_m",)),
    Case(_C, "NaN", _criteria("setback_well_m = nan"), REFUSED, ("setback_well_m",)),
    Case(_C, "infinite", _criteria("setback_well_m = inf"), REFUSED, ("setback_well_m",)),
    Case(_C, "below 0", _criteria("setback_well_m = -1"), REFUSED, ("setback_well_m",)),
    Case(_C, "text", _criteria('setback_well_m = "40"'), REFUSED, ("setback_well_m",)),
    Case(_C, "true", _criteria("setback_well_m = true"), REFUSED, ("setback_well_m",)),
    Case(_C, "a list", _criteria("setback_well_m = [40]"), REFUSED, ("setback_well_m",)),
    Case(_C, "a date", _criteria("setback_well_m = 2020-01-01"), REFUSED, ("setback_well_m",)),
    Case(_C, "tables in tables", _criteria("[a.b]\nsetback_well_m = 40.0"), REFUSED),
    Case(_C, "a number beyond all", _criteria("setback_well_m = " + "9" * 400), REFUSED),
    Case(_C, "a whole number with a fraction", _criteria("n_realisations = 2.5"), REFUSED, ("n_realisations",)),
    Case(_C, "a folder", lambda folder, plain: {"criteria": str(folder)}, REFUSED),
]
TABLES = [*RAINFALL, *CRITERIA]
