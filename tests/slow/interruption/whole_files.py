"""Whether a file that a screening wrote is whole."""

from __future__ import annotations

import json
import sqlite3
import tomllib
import zipfile
from pathlib import Path

import pandas as pd


def check_whole(path: Path) -> None:
    """Raise if a file is not whole: each format by its own end or structure."""
    if path.suffix == ".json":
        assert json.loads(path.read_text(encoding="utf-8")), path
    elif path.suffix == ".html":
        assert path.read_text(encoding="utf-8").rstrip().endswith("</html>"), path
    elif path.suffix == ".toml":
        assert "setback_well_m" in tomllib.loads(path.read_text(encoding="utf-8"))
    elif path.suffix == ".csv":
        assert path.read_bytes().endswith(b"\r\n")
        pd.read_csv(path)
    elif path.suffix == ".xlsx":
        assert zipfile.ZipFile(path).testzip() is None
    elif path.suffix in (".pdf", ".parquet"):
        assert path.read_bytes().rstrip().endswith((b"%%EOF", b"PAR1")), path
    else:
        with sqlite3.connect(path) as base:
            assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            layers = base.execute("SELECT table_name FROM gpkg_contents").fetchall()
            assert layers and all(base.execute(f'SELECT count(*) FROM "{name}"').fetchone() for (name,) in layers)
