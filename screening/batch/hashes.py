"""What a run was made from, as hashes: so that parts of different inputs or thresholds are never mixed."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

from screening.batch.tasks import Job
from screening.inputs import split_layer
from screening.schema.criteria import describe

WHOLE_BYTES = 1 << 26
"""Files up to this size are hashed whole [B]; larger ones by size, time of change and samples, in moderate time."""
_N_SAMPLES = 64
_SAMPLE_BYTES = 1 << 16
_PATHS = ("elevation", "context_elevation", "land_cover_classes")


def hash_job(job: Job) -> dict[str, str]:
    """Hash everything that a result depends on.

    Returns
    -------
    Hashes by what a reader knows them as: each input by its option, the options, the thresholds, the rain, the
    version of the toolkit.
    """
    request = job.request
    hashes: dict[str, str] = {}
    options: dict[str, Any] = {}
    for spec in dataclasses.fields(request):
        value = getattr(request, spec.name)
        if value is None or spec.name in ("at", "radius_m"):
            continue
        path, layer = split_layer(value) if isinstance(value, str | Path) else (None, None)
        if path is not None and (spec.name in _PATHS or path.exists()):
            hashes[_option(spec.name)] = _hash_files(_files_of(path), layer or "")
        else:
            options[spec.name] = value
    hashes["the options of the inputs"] = _hash_value(options)
    hashes["the thresholds"] = _hash_value({row.name: row.value for row in describe(job.criteria)})
    hashes["the rain"] = _hash_value(dataclasses.asdict(job.rain))
    hashes["the version of screening"] = _hash_value(version("screening"))
    return hashes


def changed(before: dict[str, str], now: dict[str, str]) -> list[str]:
    """Name what differs between two sets of hashes, in the order of the options."""
    return [name for name in dict.fromkeys([*now, *before]) if before.get(name) != now.get(name)]


def _option(field: str) -> str:
    return "--" + field.replace("_", "-")


def _files_of(path: Path) -> list[Path]:
    """All files of a data set: a raster names its own, a shapefile's share its stem."""
    if path.suffix.lower() == ".shp":
        return sorted(path.parent.glob(path.stem + ".*"))
    if path.suffix.lower() in (".tif", ".tiff", ".vrt", ".img", ".asc", ".flt"):
        import rasterio
        from rasterio.errors import RasterioError

        try:
            with rasterio.open(path) as raster:
                # Overviews and statistics may come beside a raster without changing it.
                return sorted(Path(name) for name in raster.files if not name.endswith((".ovr", ".aux.xml")))
        except RasterioError:
            return [path]
    return sorted(path.rglob("*")) if path.is_dir() else [path]


def _hash_files(paths: list[Path], layer: str) -> str:
    digest = hashlib.sha256(layer.encode())
    for path in paths:
        if path.is_file():
            digest.update(path.name.encode("utf-8", "surrogatepass"))
            _hash_file(path, digest)
    return digest.hexdigest()


def _hash_file(path: Path, digest: Any) -> None:
    state = path.stat()
    with path.open("rb") as file:
        if state.st_size <= WHOLE_BYTES:
            digest.update(file.read())
            return
        digest.update(f"{state.st_size} {state.st_mtime_ns}".encode())
        for number in range(_N_SAMPLES):
            file.seek((state.st_size - _SAMPLE_BYTES) * number // (_N_SAMPLES - 1))
            digest.update(file.read(_SAMPLE_BYTES))


def _hash_value(value: Any) -> str:
    return hashlib.sha256(json.dumps(value, sort_keys=True, default=str).encode()).hexdigest()
