"""All files of a driveway study: tables, layers, the result and the map, with those of its driveways alone."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from screening.errors import InputError
from screening.hydraulics.drain_site import DrainSite
from screening.models import BlockResult, DrivewayStudy
from screening.schema.columns import DRIVEWAY_TABLES
from screening.units import UNIT_SYSTEMS, UnitSystem

DRIVEWAY_FILES: dict[str, str] = {
    "map": "map.html",
    "driveways": "driveways.csv",
    "driveway_edges": "driveway_edges.csv",
    "driveway_storms": "driveway_storms.csv",
    "geopackage": "driveways.gpkg",
    "result": "driveways.json",
    "criteria": "used_criteria.toml",
}
"""Names of the files that `write_driveway_outputs` makes, by what they are."""
LAYERS = ("driveways", "driveway_edges", "driveway_arrows", "driveway_low_points", "driveway_areas", "driveway_storms")


def only_driveways(result: BlockResult, driveway_ids: Sequence[str]) -> BlockResult:
    """Keep some driveways of a result, all if none is named.

    Raises
    ------
    InputError
        There are no driveways on the lots, or not these.
    """
    known = result.driveways["driveway_id"].tolist()
    if not known:
        raise InputError(
            "There is no driveway on the lots", mend="give --driveways or --impervious, and lots that they lie on"
        )
    missing = [name for name in driveway_ids if name not in known]
    if missing:
        raise InputError(
            "No such driveway on the lots",
            got=", ".join(missing),
            expected=", ".join(known[:20]),
            mend="name one of these with --driveway-id",
        )
    wanted = set(driveway_ids or known)

    def own(table: Any) -> Any:
        return table[table["driveway_id"].isin(wanted)].reset_index(drop=True)

    study = result.driveway_study
    kept = {field.name: own(getattr(study, field.name)) for field in dataclasses.fields(DrivewayStudy)}
    return dataclasses.replace(result, driveways=own(result.driveways), driveway_study=DrivewayStudy(**kept))


def write_driveway_outputs(
    result: BlockResult,
    out_dir: Path,
    site: DrainSite,
    *,
    units: UnitSystem = "metric",
    title: str = "",
    provenance: Mapping[str, Any] | None = None,
    basemap_url: str | None = None,
    basemap_attribution: str | None = None,
) -> dict[str, Path]:
    """Write the study of some driveways.

    Parameters
    ----------
    result
        From `only_driveways`.
    out_dir
        Folder; made if it is not there.
    site
        What is known of the place of a drain.
    units, title, provenance, basemap_url, basemap_attribution
        As `outputs.write_outputs` takes them.

    Returns
    -------
    Paths by the keys of `DRIVEWAY_FILES`.

    Raises
    ------
    OutputError
        A file cannot be written; nothing half written is left.
    """
    from screening.report.driveway.words import drain_cautions
    from screening.report.map.page import build_map
    from screening.report.outputs import make_folder, write_all
    from screening.report.tables.files import criteria_toml, write_csv
    from screening.report.tables.geopackage import write_geopackage

    cautions = {system: drain_cautions(site, criteria=result.criteria, units=system) for system in UNIT_SYSTEMS}

    def write_map(path: Path) -> None:
        page = build_map(
            result,
            units=units,
            title=title,
            provenance=provenance,
            basemap_url=basemap_url,
            basemap_attribution=basemap_attribution,
            more_cautions=cautions,
            focus="driveways",
        )
        path.write_text(page, encoding="utf-8", newline="\n")

    def write_criteria(path: Path) -> None:
        path.write_text(criteria_toml(result.criteria), encoding="utf-8", newline="\n")

    writers: dict[str, Callable[[Path], None]] = {
        "map": write_map,
        **{
            name: lambda path, name=name: write_csv(result, path, name=name)  # type: ignore[misc]
            for name in ("driveways", "driveway_edges", "driveway_storms")
        },
        "geopackage": lambda path: write_geopackage(result, path, layers=LAYERS),
        "result": lambda path: _write_json(result, path, site, provenance),
        "criteria": write_criteria,
    }
    return write_all(make_folder(out_dir), {key: (DRIVEWAY_FILES[key], write) for key, write in writers.items()})


def _write_json(result: BlockResult, path: Path, site: DrainSite, provenance: Mapping[str, Any] | None) -> None:
    """Write the study as JSON, with the balance of each driveway, its verdicts and the checks of a drain's place."""
    from screening.report.cautions import CAUTIONS
    from screening.report.driveway.words import drain_rows
    from screening.report.tables.files import as_document, plain, write_document

    whole = as_document(result, provenance)
    ids = set(result.driveways["driveway_id"])
    kept = ("format", "versions", "provenance", "grid", "storm", "thresholds", "criteria", "driveways")
    document = {name: whole[name] for name in kept}
    document |= {name: whole[name] for name in DRIVEWAY_TABLES if name in whole}
    document["verdicts"] = [
        row for row in whole["verdicts"] if row["subject_kind"] == "driveway" and row["subject_id"] in ids
    ]
    document["drain_site"] = [
        plain(dataclasses.asdict(row) | {"outcome": row.outcome}) for row in drain_rows(site, criteria=result.criteria)
    ]
    document |= {"notes": whole["notes"], "cautions": list(CAUTIONS)}
    write_document(document, path)
