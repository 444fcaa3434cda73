"""Part files of a run: tables of each chunk as GeoParquet, whole or not there, and its status beside them."""

from __future__ import annotations

import contextlib
import json
import os
import secrets
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.errors import OutputError
from screening.models import Note

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

TABLES = {"lots": "summary", "structures": "structures", "verdicts": "verdicts"}
"""Tables of a part, by what they are called where they are told; they hold codes, and sentences are made when the
outputs are written. A part's status is written last: without it the part does not count."""
LOTS_FILE = "lots.parquet"


@dataclass(frozen=True, kw_only=True)
class Part:
    """A finished chunk as its status file has it.

    Parameters
    ----------
    name
        Of its files.
    done
        Ids of lots whose findings are in its tables.
    failed
        Reasons of the other lots, by id.
    notes
        What a reader must know.
    saved_ns
        When its status was written [ns].
    """

    name: str
    done: tuple[str, ...]
    failed: Mapping[str, str]
    notes: tuple[Note, ...] = ()
    saved_ns: int = 0


def parts_folder(out_dir: Path) -> Path:
    """Where the parts of a run are."""
    return out_dir / "parts"


def write_part(out_dir: Path, part: Part, tables: Mapping[str, gpd.GeoDataFrame | pd.DataFrame]) -> None:
    """Write the tables of a chunk, then its status; what was there under its name is replaced.

    Raises
    ------
    OutputError
        The disk is full, or the folder cannot be written or seen.
    """
    folder = parts_folder(out_dir)
    for name, table in tables.items():
        write_whole(table_path(out_dir, part.name, name), partial(table.to_parquet, index=False))
    status = {"done": part.done, "failed": dict(part.failed), "notes": [each.as_row() for each in part.notes]}
    text = json.dumps(status, ensure_ascii=True, indent=0)
    write_whole(folder / f"{part.name}.json", lambda path: path.write_text(text, encoding="ascii"))


def read_parts(out_dir: Path) -> list[Part]:
    """Read the status of all parts, in the order in which they were written; a part that lacks a table is no part."""
    found = []
    for path in parts_folder(out_dir).glob("*.json"):
        status = json.loads(path.read_text(encoding="ascii"))
        has_tables = all(table_path(out_dir, path.stem, name).exists() for name in TABLES)
        if has_tables or not status["done"]:
            notes = tuple(Note.of_row(row) for row in status["notes"])
            saved = path.stat().st_mtime_ns
            found.append(
                Part(name=path.stem, done=tuple(status["done"]), failed=status["failed"], notes=notes, saved_ns=saved)
            )
    return sorted(found, key=lambda part: (part.saved_ns, part.name))


def table_path(out_dir: Path, part_name: str, table: str) -> Path:
    """Path of a table of a part."""
    return parts_folder(out_dir) / f"{part_name}.{table}.parquet"


def pack_facts(table: pd.DataFrame) -> pd.DataFrame:
    """Turn the facts of verdicts, which differ from check to check, into text that a column can hold."""
    if "facts" not in table.columns:
        return table
    return table.assign(facts=[json.dumps(facts) for facts in table["facts"]])


def unpack_facts(table: pd.DataFrame) -> pd.DataFrame:
    """Undo `pack_facts`."""
    if "facts" not in table.columns:
        return table
    return table.assign(facts=[json.loads(facts) for facts in table["facts"]])


def winners(parts: Iterable[Part]) -> tuple[dict[str, str], dict[str, str]]:
    """Settle each lot once: the latest part that has its findings, or else its latest reason.

    Returns
    -------
    Name of the part by lot id; reason by lot id.
    """
    part_of: dict[str, str] = {}
    reason_of: dict[str, str] = {}
    for part in parts:
        part_of.update(dict.fromkeys(part.done, part.name))
        reason_of.update(part.failed)
    return part_of, {lot_id: reason for lot_id, reason in reason_of.items() if lot_id not in part_of}


def write_whole(place: Path, write: Callable[[Path], Any]) -> None:
    """Write a file under a temporary name and move it to its place: it is whole, or not there.

    Raises
    ------
    OutputError
        It cannot be written.
    """
    draft = place.with_name(f".writing-{os.getpid()}-{secrets.token_hex(4)}-{place.name}")
    with clear_disk_errors(place.parent):
        try:
            write(draft)
            os.replace(draft, place)  # noqa: PTH105 the name of the call says what the promise stands on
        finally:
            with contextlib.suppress(OSError):
                draft.unlink(missing_ok=True)


@contextlib.contextmanager
def clear_disk_errors(folder: Path) -> Iterator[None]:
    """Turn a full disk, or a folder that cannot be written, into a message that says how to mend it."""
    try:
        yield
    except OSError as error:
        raise OutputError(
            "The batch cannot write its files",
            got=f"{folder} ({error.strerror or error})",
            expected="a folder that the driver and all workers can write to, with room",
            mend="free space or mend the permissions and run the same command again: what is done is kept",
        ) from error


def sweep_drafts(out_dir: Path) -> None:
    """Remove what killed workers left half written."""
    for draft in parts_folder(out_dir).glob(".writing-*"):
        with contextlib.suppress(OSError):
            draft.unlink()
