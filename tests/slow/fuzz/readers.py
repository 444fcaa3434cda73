"""Fuzz the readers of text with coverage to guide it: whatever the bytes, a value or a refusal comes out.

python -m tests.slow.fuzz.readers rainfall -max_total_time=60 tests/slow/fuzz/seeds/rainfall
"""

from __future__ import annotations

import contextlib
import math
import sys
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path

from screening.errors import ScreeningError
from screening.inputs.raster.cover_classes import read_classes
from screening.inputs.tables.criteria_file import read_criteria
from screening.inputs.tables.rainfall import read_rainfall
from screening.inputs.vector.improvements import read_improvements
from screening.inputs.vector.layers import open_layer, read_layer
from screening.report.trace import read_result, trace_result
from screening.storm.rainfall_tables import rain_depth_mm

SEEDS = Path(__file__).parent / "seeds"
_CRS = "EPSG:26917"
_INSTRUMENTED = (
    "screening.inputs",
    "screening.schema.criteria",
    "screening.storm.rainfall_tables",
    "screening.report.trace",
    "tomllib",
)


def _rainfall(path: Path) -> None:
    table = read_rainfall(path)
    for years in table.return_periods_yr:
        depth = rain_depth_mm(table, return_period_yr=years, duration_h=table.durations_h[-1])
        assert 0.0 < depth < 1e8, depth


def _layer(path: Path) -> None:
    frame, _ = read_layer(open_layer(path, subject="lots"), crs=_CRS, bounds=None, want="polygon", subject="lots")
    assert frame.geometry.is_valid.all() and (frame.geometry.area > 0).all()


def _improvements(path: Path) -> None:
    for improvement in read_improvements(path, crs=_CRS).items:
        assert all(map(math.isfinite, improvement.numbers.values())), dict(improvement.numbers)
        assert improvement.geometry.is_valid and not improvement.geometry.is_empty


def _result(path: Path) -> None:
    trace_result(read_result(path))


TARGETS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "rainfall": ("rain.csv", _rainfall),
    "criteria": ("own.toml", read_criteria),
    "classes": ("classes.csv", read_classes),
    "layer": ("lots.geojson", _layer),
    "improvements": ("improvements.geojson", _improvements),
    "result": ("result.json", _result),
}
"""File name and reader by the name of the target."""


def read_bytes(target: str, data: bytes) -> None:
    """Give bytes to a reader as a file; a refusal is an answer, anything else that is raised is a defect."""
    name, read = TARGETS[target]
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        path = Path(folder) / name
        path.write_bytes(data)
        with contextlib.suppress(ScreeningError):
            read(path)


def main() -> None:
    """Run the fuzzer on one target with the options of libFuzzer."""
    import atheris

    target = sys.argv.pop(1)
    _, read = TARGETS[target]
    atheris.instrument_func(read)
    for name, module in list(sys.modules.items()):
        if name.startswith(_INSTRUMENTED):
            for part in vars(module).values():
                if callable(part) and getattr(part, "__module__", "") == name and hasattr(part, "__code__"):
                    atheris.instrument_func(part)
    atheris.Setup(sys.argv, lambda data: read_bytes(target, data))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
