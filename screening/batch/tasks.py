"""What travels to a worker and back: paths, numbers and ids of lots, never arrays."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from screening.models import Rain, SiteRequest
from screening.schema.criteria import Criteria


@dataclass(frozen=True, kw_only=True)
class Job:
    """What all chunks of a run have in common.

    Parameters
    ----------
    request
        Files, by absolute paths that every worker can read.
    criteria, rain
        As for one site.
    out_dir
        Folder of the run, by an absolute path that every worker can write to.
    rasters
        Write the grids of each chunk.
    """

    request: SiteRequest
    criteria: Criteria
    rain: Rain
    out_dir: Path
    rasters: bool = False


@dataclass(frozen=True)
class Chunk:
    """Lots of one block that one task screens: at first the whole block, fewer when it is taken up again."""

    block: int
    lot_ids: tuple[str, ...]

    @property
    def name(self) -> str:
        """A name for files: the same lots have the same name in every run, whatever their ids hold."""
        digest = hashlib.sha256("\0".join(self.lot_ids).encode("utf-8", "surrogatepass")).hexdigest()
        return f"{self.block:06d}-{digest[:12]}"


@dataclass(frozen=True, kw_only=True)
class ChunkReport:
    """What a finished chunk tells the driver: counts and measures; the findings are in its part files.

    Parameters
    ----------
    failed
        Reasons by lot id.
    n_cells
        Cells of the windows that were screened, each once.
    seconds
        Wall time of the chunk [s].
    peak_bytes
        Most memory that the worker's process has held so far; 0 where the system does not say.
    """

    failed: dict[str, str]
    n_cells: int
    seconds: float
    peak_bytes: int
