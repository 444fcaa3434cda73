"""Vector layers of any format: valid single 2-D geometries of one kind, in the metre CRS."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from screening.errors import InputError
from screening.grid import Bounds
from screening.inputs.vector.features import read_features
from screening.inputs.vector.geometries import (
    Kind,
    drop_empty,
    inflow_cell,
    join_parts,
    kind_of_type,
    repair_invalid,
    split_parts,
)
from screening.models import Note

if TYPE_CHECKING:
    import geopandas as gpd
    from pyproj import CRS


@dataclass(frozen=True)
class Layer:
    """One layer of a vector file, before its features are read.

    Parameters
    ----------
    path, name
        Where it is; `name` None = the only layer of the file.
    crs_text
        Its CRS, as code or WKT.
    fields
        Its columns, without the geometry and without dates.
    n_features
        As the file declares; -1 = not known without reading.
    geometry_type
        As the file declares.
    subject
        What it is called in messages.
    """

    path: Path
    name: str | None
    crs_text: str
    fields: tuple[str, ...]
    n_features: int
    geometry_type: str
    subject: str

    @property
    def title(self) -> str:
        """What a message calls it: subject and file."""
        return f"{self.subject} layer {self.path.name}" + (f"::{self.name}" if self.name else "")

    @property
    def crs(self) -> CRS:
        """Its CRS as pyproj has it."""
        from pyproj import CRS

        return CRS.from_user_input(self.crs_text)


def split_layer(spec: str | Path) -> tuple[Path, str | None]:
    """Split `PATH::LAYER` into the path and the layer name.

    Examples
    --------
    >>> split_layer("town.gpkg::roads")[1]
    'roads'
    """
    path, _, name = str(spec).partition("::")
    return Path(path), name or None


def open_layer(spec: str | Path, *, subject: str) -> Layer:
    """Find out what a layer is without reading its features.

    Parameters
    ----------
    spec
        `PATH` or `PATH::LAYER`.
    subject
        What it is called in messages: lots, structures, ...

    Raises
    ------
    InputError
        No such file or layer, several layers and none named, no geometries, or no CRS.
    """
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError

    path, name = split_layer(spec)
    if not str(path).startswith("/vsi") and not path.exists():
        raise InputError(f"The file of the {subject} layer is not there", got=str(path), mend="correct the path")
    try:
        with warnings.catch_warnings():
            # Only names are asked for here; oddities are noted when the features are read.
            warnings.simplefilter("ignore")
            names = [str(row[0]) for row in pyogrio.list_layers(path)]
            _check_layer_name(path, name, names, subject)
            info = pyogrio.read_info(path, layer=name)
    except (DataSourceError, DataLayerError, ValueError) as problem:  # names that are not in UTF-8 among them
        raise InputError(
            f"The {subject} layer cannot be opened",
            got=f"{path.name}: {problem}",
            expected="a vector file that GDAL reads, such as GeoPackage, GeoJSON or Shapefile",
            mend="check the file",
        ) from problem
    title = f"{subject} layer {path.name}" + (f"::{name}" if name else "")
    if info["geometry_type"] is None:
        raise InputError(
            f"The {title} is a table without geometries",
            expected="polygons, lines or points",
            mend="name the layer that has them as PATH::LAYER",
        )
    if not _is_placed(info["crs"]):
        raise InputError(
            f"The {title} has no coordinate reference system that gives places on the earth",
            got=str(info["crs"] or "none").split('"')[0][:60],
            expected="a CRS in the file or in a .prj beside it",
            mend="assign the CRS it is in with a vector tool, such as `ogr2ogr -a_srs EPSG:CODE OUT IN`",
        )
    # Dates are of no use here, and one that no calendar has would stop the reading of all else.
    fields = tuple(
        str(field) for field, kind in zip(info["fields"], info["dtypes"], strict=True) if "datetime" not in str(kind)
    )
    return Layer(
        path=path,
        name=name,
        crs_text=str(info["crs"]),
        fields=fields,
        n_features=int(info["features"]),
        geometry_type=str(info["geometry_type"]),
        subject=subject,
    )


def _is_placed(crs_text: str | None) -> bool:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_user_input(crs_text) if crs_text else None
    except CRSError:
        return False
    return crs is not None and (crs.is_geographic or crs.is_projected)


def _check_layer_name(path: Path, name: str | None, names: list[str], subject: str) -> None:
    if not names:
        raise InputError(f"The file of the {subject} layer holds no layer", got=path.name, mend="check the file")
    if name is None and len(names) > 1:
        raise InputError(
            f"The file of the {subject} layer holds several layers and none is named",
            got=f"{path.name} with {', '.join(names)}",
            expected="one of them",
            mend=f"write it as {path.name}::{names[0]}",
        )
    if name is not None and name not in names:
        raise InputError(
            f"The {subject} file {path.name} has no layer {name!r}",
            got=name,
            expected=", ".join(names),
            mend="correct the name after ::",
        )


def read_layer(
    spec: str | Path | Layer,
    *,
    crs: str,
    bounds: Bounds | None,
    want: Kind,
    subject: str,
    keep_multi: bool = False,
    fids: list[int] | None = None,
) -> tuple[gpd.GeoDataFrame, tuple[Note, ...]]:
    """Read the features that meet a window.

    Parameters
    ----------
    spec
        `PATH`, `PATH::LAYER`, or a layer already opened.
    crs
        Metre CRS to bring them to.
    bounds
        West, south, east, north [m] in `crs`; None = everywhere.
    want
        Geometry kind; parts of other kinds are left out with a note.
    subject
        What it is called in messages and notes.
    keep_multi
        One row a feature even where it has several parts; if not, one row a part.
    fids
        Only these features.

    Returns
    -------
    Attributes and geometries, indexed by feature number, in the order of the file; `_part` counts the parts
    of a feature from 1, 0 where it has one. Notes.

    Raises
    ------
    InputError
        The layer cannot be read, or nothing in it is of the kind wanted.
    """
    layer = spec if isinstance(spec, Layer) else open_layer(spec, subject=subject)
    frame, notes = read_features(layer, crs=crs, bounds=bounds, fids=fids)
    for step in (drop_empty, repair_invalid):
        frame, found = step(frame, subject=subject)
        notes += found
    parts, found = split_parts(frame, want=want, subject=subject)
    is_whole = bounds is None and fids is None
    if kind_of_type(layer.geometry_type) not in (want, "") or (is_whole and len(frame) and not len(parts)):
        raise InputError(
            f"The {layer.title} holds no {want}s",
            got=layer.geometry_type,
            expected=f"{want}s",
            mend=f"give the layer that has them as {want}s",
        )
    notes += found
    if keep_multi:
        parts = join_parts(parts)
    return (parts if bounds is None else inflow_cell(parts, bounds)), tuple(notes)
