"""The outputs of a batch: every lot once, ranked, with what its rank can be traced to."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.batch.page import lots_page
from screening.batch.parts import TABLES, read_parts, table_path, unpack_facts, winners
from screening.batch.plan import Plan
from screening.batch.tasks import Job
from screening.models import Note
from screening.schema.codes.batch import LotProblem, LotStatus
from screening.schema.columns import Column, batch_columns, names
from screening.schema.layers import all_tables

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

FILE_NAMES = {
    "map": "map.html",
    "summary_csv": "summary.csv",
    "summary_xlsx": "summary.xlsx",
    "summary_parquet": "summary.parquet",
    "summary_gpkg": "summary.gpkg",
    "verdicts_csv": "verdicts.csv",
    "notes_csv": "notes.csv",
    "criteria": "used_criteria.toml",
}


def gather_outputs(job: Job, plan: Plan) -> tuple[gpd.GeoDataFrame, dict[str, Path]]:
    """Join the parts of a finished run, rank the lots, and write the outputs.

    Parameters
    ----------
    job, plan
        Of the run.

    Returns
    -------
    `columns.batch_columns` and lot polygons, by rank; paths by the keys of `FILE_NAMES`.

    Raises
    ------
    OutputError
        An output cannot be written.
    """
    import pandas as pd

    from screening.report.outputs import write_all
    from screening.report.tables.files import criteria_toml, write_table_csv
    from screening.report.tables.workbook import write_lots_workbook
    from screening.schema.criteria import profile_words

    profile, columns = profile_words(job.criteria), batch_columns()
    parts = read_parts(job.out_dir)
    part_of, reason_of = winners(parts)
    summary = rank_lots(_all_lots(job, plan, part_of, reason_of))
    ranked = summary[["lot_id", "visit_rank"]]
    verdicts = _by_rank(_rows_of(job, "verdicts", part_of), ranked)
    structures = _by_rank(_rows_of(job, "structures", part_of), ranked)
    notes = pd.DataFrame(_notes(plan.notes, [part.notes for part in parts]))
    writers: dict[str, Callable[[Path], Any]] = {
        "map": lambda path: path.write_text(
            lots_page(summary, title=f"{len(summary):,} lots"), encoding="utf-8", newline="\n"
        ),
        "summary_csv": lambda path: write_table_csv(summary, columns, path, profile=profile),
        "summary_xlsx": lambda path: write_lots_workbook(summary, columns, path, title=f"{len(summary):,} lots"),
        "summary_parquet": lambda path: summary.to_parquet(path, index=False),
        "summary_gpkg": lambda path: _write_geopackage(path, summary, structures, verdicts),
        "verdicts_csv": lambda path: write_table_csv(verdicts, all_tables()["verdicts"], path, profile=profile),
        "notes_csv": lambda path: notes.to_csv(path, index=False, encoding="utf-8-sig", lineterminator="\r\n"),
        "criteria": lambda path: path.write_text(criteria_toml(job.criteria), encoding="utf-8", newline="\n"),
    }
    return summary, write_all(job.out_dir, {key: (FILE_NAMES[key], write) for key, write in writers.items()})


def rank_lots(lots: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Put lots in visiting order: largest score first, lots of one score in the order of their file; unknown ones last.

    Lots without findings have no rank: unknown is not the same as nothing found.
    """
    score = lots["visit_score"].to_numpy(float, na_value=np.nan)
    is_known = (lots["status"] == LotStatus.ASSESSED).to_numpy()
    order = np.lexsort((lots["file_order"].to_numpy(), -np.where(is_known, score, -np.inf), ~is_known))
    ranked = lots.iloc[order].reset_index(drop=True)
    rank = ranked.index.to_series() + 1
    ranked["visit_rank"] = rank.where(ranked["status"] == LotStatus.ASSESSED).astype("Int64")
    kept: gpd.GeoDataFrame = ranked[[*names(batch_columns()), "geometry"]]
    return kept


def _all_lots(job: Job, plan: Plan, part_of: dict[str, str], reason_of: dict[str, str]) -> gpd.GeoDataFrame:
    """One row for every lot of the plan, whatever became of it."""
    import geopandas as gpd

    reasons = dict(zip(plan.lots["lot_id"], plan.lots["reason"], strict=True)) | reason_of
    found = _rows_of(job, "lots", part_of).drop(columns=["geometry", "visit_rank"])
    lots = plan.lots[["lot_id", "file_order"]].merge(found, on="lot_id", how="left", validate="one_to_one")
    has_part = lots["lot_id"].isin(part_of).to_numpy()
    is_blank = has_part & ~(lots["assessed_frac"].to_numpy(float, na_value=np.nan) > 0)
    found_or_not = np.where(is_blank, LotStatus.NOT_ASSESSED.value, LotStatus.ASSESSED.value)
    lots["status"] = np.where(~has_part, LotStatus.FAILED.value, found_or_not)
    lots["reason"] = [
        LotProblem.NO_ELEVATION.value if blank else "" if has else reasons[lot_id]
        for lot_id, has, blank in zip(lots["lot_id"], has_part, is_blank, strict=True)
    ]
    return gpd.GeoDataFrame(lots, geometry=plan.lots.geometry.to_numpy(), crs=plan.lots.crs)


def _rows_of(job: Job, table: str, part_of: dict[str, str]) -> Any:
    """Rows of a table from all parts, each lot's from the part that settled it, with their sentences."""
    import geopandas as gpd
    import pandas as pd

    from screening.report.tables.files import tell_table

    frames = []
    for name in sorted(set(part_of.values())):
        path = table_path(job.out_dir, name, table)
        frame = pd.read_parquet(path) if table == "verdicts" else gpd.read_parquet(path)
        frames.append(frame[frame["lot_id"].map(part_of) == name])
    if not frames:
        return _empty(table)
    return tell_table(TABLES[table], unpack_facts(pd.concat(frames, ignore_index=True)), job.criteria)


def _empty(table: str) -> Any:
    import geopandas as gpd
    import pandas as pd

    frame = pd.DataFrame(columns=names(all_tables()[TABLES[table]]))
    return frame if table == "verdicts" else gpd.GeoDataFrame(frame, geometry=[])


def _by_rank(rows: Any, ranked: pd.DataFrame) -> Any:
    order = rows["lot_id"].map(dict(zip(ranked["lot_id"], range(len(ranked)), strict=True)))
    return rows.iloc[np.argsort(order.to_numpy(float), kind="stable")].reset_index(drop=True)


def _notes(of_lots: tuple[Note, ...], of_parts: list[tuple[Note, ...]]) -> list[dict[str, object]]:
    """Notes with the number of chunks that have them: what one block lacks, others may have."""
    from screening.report.words.notes import note_words

    def told(notes: tuple[Note, ...]) -> list[tuple[str, str, str]]:
        """Notes of one part that read alike, their numbers rounded, count once."""
        return list(dict.fromkeys((str(each.kind), str(each.subject), note_words(each)) for each in notes))

    counts = dict.fromkeys(told(of_lots), 0)
    for notes in of_parts:
        for row in told(notes):
            counts[row] = counts.get(row, 0) + 1
    keys = ("kind", "subject", "text")
    return [{**dict(zip(keys, row, strict=True)), "n_blocks": n_blocks} for row, n_blocks in counts.items()]


def _write_geopackage(path: Path, summary: Any, structures: Any, verdicts: Any) -> None:
    import pyogrio

    from screening.report.tables.files import with_text_types

    layers: list[tuple[str, Any, tuple[Column, ...]]] = [
        ("summary", summary, batch_columns()),
        ("structures", structures, all_tables()["structures"]),
        ("verdicts", verdicts, all_tables()["verdicts"]),
    ]
    for place, (name, frame, columns) in enumerate(layers):
        options: dict[str, Any] = {"layer": name, "driver": "GPKG", "append": place > 0}
        if name != "verdicts":
            options |= {"geometry_type": "MultiPolygon", "promote_to_multi": True}
            frame = frame.set_crs(summary.crs, allow_override=True)
        pyogrio.write_dataframe(with_text_types(frame, columns), path, **options)
