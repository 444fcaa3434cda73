"""The plan of a run, kept in its folder: what it is made from, its lots and their blocks, and what is left to do."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from screening.batch.blocks import group_lots
from screening.batch.hashes import changed, hash_job
from screening.batch.parts import LOTS_FILE, clear_disk_errors, parts_folder, sweep_drafts, write_whole
from screening.batch.tasks import Chunk, Job
from screening.errors import InputError
from screening.models import Note
from screening.schema.codes.inputs import LotReason

if TYPE_CHECKING:
    import geopandas as gpd

RUN_FILE = "run.json"
_FORMAT = 1
_LOTS_PER_ROW_GROUP = 2_000


@dataclass(frozen=True, eq=False)
class Plan:
    """What a run has to do.

    Parameters
    ----------
    lots
        `lot_id`, `file_order`, `reason` (empty = can be screened), `block` (-1 = none) and polygons, by block.
    notes
        On the lots as read.
    hashes
        What the run is made from: see `hashes.hash_job`.
    """

    lots: gpd.GeoDataFrame
    notes: tuple[Note, ...]
    hashes: dict[str, str]

    def chunks(self, settled: Iterable[str]) -> Iterator[Chunk]:
        """Blocks with what is left of them when the settled lots are taken out."""
        left = self.lots[(self.lots["block"] >= 0) & ~self.lots["lot_id"].isin(set(settled))]
        for block, lot_ids in left.groupby("block", sort=True)["lot_id"]:
            yield Chunk(int(block), tuple(lot_ids))


def make_plan(job: Job, *, restart: bool = False) -> Plan:
    """Read the lots of a run, group them into blocks, and make or check the folder of the run.

    Parameters
    ----------
    job
        What is asked for.
    restart
        Discard what an earlier run has left in the folder.

    Raises
    ------
    InputError
        An input cannot be used, or the folder holds parts that were made from something else.
    OutputError
        The folder cannot be written.
    """
    _check_layers(job)
    hashes = hash_job(job)
    _check_folder(job.out_dir, hashes, restart=restart)
    lots, notes = _grouped_lots(job)
    plan = Plan(lots, notes, hashes)
    with clear_disk_errors(job.out_dir):
        if restart:
            for path in (parts_folder(job.out_dir), job.out_dir / "rasters"):
                shutil.rmtree(path, ignore_errors=True)
        parts_folder(job.out_dir).mkdir(parents=True, exist_ok=True)
    sweep_drafts(job.out_dir)
    write_whole(
        job.out_dir / LOTS_FILE,
        lambda path: lots.to_parquet(path, index=False, row_group_size=_LOTS_PER_ROW_GROUP),
    )
    # Last: without it the folder is that of no run.
    document = json.dumps({"format": _FORMAT, "hashes": hashes}, indent=1)
    write_whole(job.out_dir / RUN_FILE, lambda path: path.write_text(document + "\n", encoding="utf-8"))
    return plan


def _check_layers(job: Job) -> None:
    """Open every layer once: what cannot be used at all must not fail lot by lot."""
    from screening.inputs import open_layers

    open_layers(job.request)


def _check_folder(out_dir: Path, hashes: dict[str, str], *, restart: bool) -> None:
    path = out_dir / RUN_FILE
    if restart or not path.is_file():
        return
    before = json.loads(path.read_text(encoding="utf-8"))["hashes"]
    different = changed(before, hashes)
    if different:
        raise InputError(
            "The folder holds parts of a run that was made from something else",
            got=f"{out_dir}, where {', '.join(different)} differed",
            expected="the same inputs, options and thresholds",
            mend="choose another --out, or discard what is there with --restart",
        )


def _grouped_lots(job: Job) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    from screening.inputs import open_rasters, read_roster

    elevation, _ = open_rasters(job.request)
    roster = read_roster(job.request, elevation)
    lots = roster.lots
    can_run = (lots["reason"] == LotReason.NONE).to_numpy()
    block = np.full(len(lots), -1, np.int64)
    block[can_run] = group_lots(
        lots.geometry[can_run].bounds.to_numpy(float),
        cell_m=elevation.grid.cell_m,
        around_m=job.criteria.site.window_look_m,
        within=elevation.grid.bounds,
    )
    lots = lots.assign(block=block).sort_values(["block", "file_order"], kind="stable").reset_index(drop=True)
    return lots, roster.notes
