"""What says that an input is the same file again: SHA-256 of its content."""

from __future__ import annotations

import hashlib
from pathlib import Path

from screening.inputs.vector.layers import split_layer

WHOLE_UP_TO_BYTES = 2 * 1024**3
"""Larger files are known by their size and their two ends: reading all of them would take longer than the screening."""
_END_BYTES = 64 * 1024**2
_AT_ONCE = 1024**2


def content_hash(spec: Path | str) -> str:
    """Give the SHA-256 of an input, with the parts that a Shapefile or a folder has.

    Parameters
    ----------
    spec
        `PATH` or `PATH::LAYER`.

    Returns
    -------
    Hexadecimal digits; after `ends-` where a file is larger than `WHOLE_UP_TO_BYTES`; empty where there is no file, as
    for what GDAL reads over a network.
    """
    path, _ = split_layer(spec)
    if path.is_dir():
        files = sorted(part for part in path.rglob("*") if part.is_file())
    elif path.suffix.lower() == ".shp":
        files = sorted(part for part in path.parent.glob(f"{path.stem}.*") if part.is_file())
    else:
        files = [path] if path.is_file() else []
    if not files:
        return ""
    digest, is_whole = hashlib.sha256(), True
    for part in files:
        is_whole &= _add(digest, part, is_named=len(files) > 1)
    return digest.hexdigest() if is_whole else f"ends-{digest.hexdigest()}"


def _add(digest: hashlib._Hash, path: Path, *, is_named: bool) -> bool:
    size = path.stat().st_size
    if is_named:
        digest.update(f"{path.name}:{size}\0".encode(errors="surrogateescape"))
    with path.open("rb") as file:
        if size <= WHOLE_UP_TO_BYTES:
            while chunk := file.read(_AT_ONCE):
                digest.update(chunk)
            return True
        digest.update(f"{size}\0".encode())
        digest.update(file.read(_END_BYTES))
        file.seek(-_END_BYTES, 2)
        digest.update(file.read(_END_BYTES))
    return False
