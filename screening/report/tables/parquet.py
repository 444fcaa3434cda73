"""The lots as GeoParquet, for whoever works on many of them."""

from __future__ import annotations

import io
from pathlib import Path

from screening.models import BlockResult
from screening.report.tables.files import table_of
from screening.schema.layers import all_tables


def write_parquet(result: BlockResult, path: Path) -> None:
    """Write the lots in the CRS of the grid, SI units; each field carries its label, unit and meaning.

    References
    ----------
    OGC 24-013, GeoParquet 1.1: geometry as WKB, the entry `geo` of the file's metadata.
    """
    import geopandas as gpd
    import pyarrow.parquet as pq

    columns = {column.name: column for column in all_tables()["summary"]}
    frame = gpd.GeoDataFrame(table_of(result, "summary"), geometry="geometry", crs=result.block.grid.crs)
    held = io.BytesIO()
    frame.to_parquet(held, index=False)
    table = pq.read_table(held)
    schema = table.schema
    for place, field in enumerate(schema):
        if field.name in columns:
            column = columns[field.name]
            said = {"label": column.label, "unit": column.unit, "meaning": column.meaning}
            schema = schema.set(place, field.with_metadata(said))
    pq.write_table(table.cast(schema), path, compression="zstd")
