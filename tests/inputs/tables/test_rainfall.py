from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from screening.errors import InputError
from screening.inputs import read_rainfall
from screening.models import RainfallTable

POINT = Path(__file__).parents[2] / "tables" / "atlas14_volume9_point_depth_in.csv"
HEAD = "Point precipitation frequency estimates ({unit})\nNOAA Atlas 14 Volume 0 Version 0\nData type: {kind}\n\n"
ROWS = ("5-min:, 0.30,0.40,0.50\n", "60-min:, 1.00,1.30,1.60\n", "24-hr:, 2.40,3.00,3.80\n")
ARI = "by duration for ARI (years):, 2,10,100\n"


def _write(folder: Path, text: str, *, encoding: str = "utf-8") -> Path:
    path = folder / "rain.csv"
    path.write_bytes(text.encode(encoding))
    return path


def _table(
    unit: str = "inches", kind: str = "Precipitation depth", header: str = ARI, rows: tuple[str, ...] = ROWS
) -> str:
    return HEAD.format(unit=unit, kind=kind) + "PRECIPITATION FREQUENCY ESTIMATES\n" + header + "".join(rows)


def _depth_in(table: RainfallTable, duration_h: float, years: float) -> float:
    row = next(k for k, hours in enumerate(table.durations_h) if abs(hours - duration_h) < 1e-9)
    return table.depth_mm[row][table.return_periods_yr.index(years)] / 25.4


def test_a_point_table_as_the_server_gives_it() -> None:
    # NOAA Atlas 14 Volume 9, point 26.6, -81.9: values as printed in the table.
    table = read_rainfall(POINT)
    assert table.return_periods_yr == (1, 2, 5, 10, 25, 50, 100, 200, 500, 1000)
    assert len(table.durations_h) == 19
    assert (table.durations_h[0], table.durations_h[-1]) == (5 / 60, 60 * 24)
    assert _depth_in(table, 24, 100) == pytest.approx(12.1, abs=1e-12)
    assert _depth_in(table, 5 / 60, 10) == pytest.approx(0.822, abs=1e-12)
    assert _depth_in(table, 24, 2) == pytest.approx(4.76, abs=1e-12)
    for said in ("NOAA Atlas 14 Volume 9", "Partial duration", "26.6"):
        assert said in table.source


def test_depths_rise_with_duration_and_return_period() -> None:
    depth = np.array(read_rainfall(POINT).depth_mm)
    assert (np.diff(depth, axis=0) > 0).all()
    assert (np.diff(depth, axis=1) > 0).all()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"])
def test_encodings_and_what_spreadsheets_leave(tmp_path: Path, encoding: str) -> None:
    text = "".join(f"{line},,,\r\n" for line in _table().replace("NOAA Atlas", "Höhe °\nNOAA Atlas").splitlines())
    table = read_rainfall(_write(tmp_path, text, encoding=encoding))
    assert _depth_in(table, 1, 10) == pytest.approx(1.30)


@pytest.mark.parametrize(
    ("unit", "kind", "expected_mm"),
    [
        ("inches", "Precipitation depth", 1.30 * 25.4),
        ("millimeters", "Precipitation depth", 1.30),
        ("inches/hour", "Precipitation intensity", 1.30 * 25.4),
        ("millimeters/hour", "Precipitation intensity", 1.30),
        ("in/hr", "Precipitation intensity", 1.30 * 25.4),
        ("mm", "Precipitation depth", 1.30),
    ],
)
def test_units(tmp_path: Path, unit: str, kind: str, expected_mm: float) -> None:
    table = read_rainfall(
        _write(
            tmp_path,
            _table(unit, kind, rows=(ROWS[1], "2-hr:, 0.60,0.70,0.90\n")) if "/" in unit else _table(unit, kind),
        )
    )
    row = table.durations_h.index(1.0)
    assert table.depth_mm[row][1] == pytest.approx(expected_mm)


def test_intensity_times_duration_is_depth(tmp_path: Path) -> None:
    rows = ("5-min:, 3.48,4.0,5.0\n", "10-min:, 2.55,3.0,4.0\n")
    table = read_rainfall(_write(tmp_path, _table("inches/hour", "Precipitation intensity", rows=rows)))
    # 2-year intensities of a NOAA Atlas 14 Volume 8 point: 10 minutes of 2.55 in/h are 0.425 in.
    assert _depth_in(table, 10 / 60, 2) == pytest.approx(0.425, rel=1e-12)


def test_annual_maximum_header_with_apostrophes(tmp_path: Path) -> None:
    table = read_rainfall(_write(tmp_path, _table(header="by duration for AEP:, '1/2,'1/10,'1/100\n")))
    assert table.return_periods_yr == (2, 10, 100)
    with pytest.raises(InputError, match=r"return period.*2-Jan"):
        read_rainfall(_write(tmp_path, _table(header="by duration for AEP:, 2-Jan,10-Jan,1/100\n")))


def test_the_series_is_read_from_the_header(tmp_path: Path) -> None:
    assert read_rainfall(POINT).series == "partial duration"
    assert read_rainfall(_write(tmp_path, _table())).series == "unknown"
    stated = _table().replace("Data type", "Time series type: Annual maximum\nData type")
    assert read_rainfall(_write(tmp_path, stated)).series == "annual maximum"
    header = "by duration for AEP:, '1/2,'1/5,'1/10,'1/25,'1/50,'1/100,'1/200,'1/500,'1/1000\n"
    rows = ("1-hr:, 1,2,3,4,5,6,7,8,9\n", "2-hr:, 2,3,4,5,6,7,8,9,10\n")
    table = read_rainfall(_write(tmp_path, _table(header=header, rows=rows)))
    assert table.series == "annual maximum" and table.return_periods_yr == (2, 5, 10, 25, 50, 100, 200, 500, 1000)


def test_a_row_with_no_rain_is_left_out(tmp_path: Path) -> None:
    table = read_rainfall(_write(tmp_path, _table(rows=("5-min:, 0.00,0.10,0.20\n", *ROWS[1:]))))
    assert table.durations_h == (1.0, 24.0) and "rows 5-min left out" in table.source


def test_the_estimates_are_taken_from_a_file_that_has_their_bounds_too(tmp_path: Path) -> None:
    def block(title: str, factor: float) -> str:
        rows = [
            row.split(",")[0] + ", " + ",".join(f"{float(value) * factor:.2f}" for value in row.split(",")[1:]) + "\n"
            for row in ROWS
        ]
        return f"{title}\n{ARI}{''.join(rows)}\n"

    means = "PRECIPITATION FREQUENCY ESTIMATES"
    bounds = block("UPPER BOUND OF THE 90% CONFIDENCE INTERVAL", 1.2), block("LOWER BOUND OF THE 90%", 0.8)
    head = HEAD.format(unit="inches", kind="Precipitation depth")
    for order in ((block(means, 1.0), *bounds), (*bounds, block(means, 1.0))):
        assert _depth_in(read_rainfall(_write(tmp_path, head + "".join(order))), 1, 10) == pytest.approx(1.30)
    with pytest.raises(InputError, match="only confidence bounds"):
        read_rainfall(_write(tmp_path, head + "".join(bounds)))


def test_rows_printed_too_coarsely_are_left_out_and_named(tmp_path: Path) -> None:
    rows = ("60-min:, 18,27,40\n", "24-hr:, 2,3,4\n")
    table = read_rainfall(_write(tmp_path, _table("millimeters/hour", "Precipitation intensity", rows=rows)))
    assert table.durations_h == (1.0,)
    assert "rows 24-hr left out" in table.source


def test_a_fall_within_rounding_is_levelled_and_said(tmp_path: Path) -> None:
    rows = ("2-hr:, 0.50,0.60,0.70\n", "3-hr:, 0.33,0.40,0.47\n")
    table = read_rainfall(_write(tmp_path, _table("inches/hour", "Precipitation intensity", rows=rows)))
    assert table.depth_mm[1][0] == table.depth_mm[0][0] == pytest.approx(25.4)
    assert "levelled" in table.source


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (_table().split("\n", 1)[1], "does not say its unit"),
        (_table("inches", "Precipitation intensity"), "contradicts itself"),
        (HEAD.format(unit="inches", kind="Precipitation depth") + "None for this place\n", "has no estimates"),
        (_table(rows=(ROWS[1], "2-hr:, 0.50,1.40,1.70\n")), "falls with duration"),
        (_table(rows=("2-hr:, 1.50,1.40,1.70\n",)), "falls with return period"),
        (_table(rows=(ROWS[2], ROWS[1])), "durations do not ascend"),
        (_table(rows=("2-hr:, 1.50,1.60\n",)), "wrong number of values"),
        (_table(rows=("2-hr:, 1.50,NA,1.70\n",)), "no number"),
        (_table(rows=("2-hr:, -9.99,1.6,1.70\n",)), "impossible rain"),
        (_table(header="by duration for ARI (years):, 10,2,100\n"), "return periods do not ascend"),
        ("<html>no table here</html>", "does not say its unit"),
    ],
)
def test_tables_that_cannot_be_used_are_refused_with_the_reason(tmp_path: Path, text: str, why: str) -> None:
    with pytest.raises(InputError, match=why):
        read_rainfall(_write(tmp_path, text))


def test_a_table_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not there"):
        read_rainfall(tmp_path / "absent.csv")


@pytest.mark.realdata
@pytest.mark.parametrize(
    ("name", "n_rows", "duration_h", "depth_2yr_in"),
    # As printed: 3.07 in; 3.59 in/h for 15 min; 2.55 in/h and 65 mm/h for 10 min.
    [
        ("depth_in_PDS_Champaign_IL_point.csv", 19, 24, 3.07),
        ("intensity_inhr_PDS_WestLafayette_IN_excel_resaved.csv", 19, 0.25, 3.59 / 4),
        ("intensity_inhr_PDS_point_39_-105.csv", 19, 10 / 60, 0.425),
        ("intensity_mmhr_PDS_point_39_-105.csv", 8, 10 / 60, 65 / 6 / 25.4),
    ],
)
def test_real_tables(data_dir: Path, name: str, n_rows: int, duration_h: float, depth_2yr_in: float) -> None:
    table = read_rainfall(data_dir / "rainfall" / name)
    assert len(table.durations_h) == n_rows
    assert _depth_in(table, duration_h, 2) == pytest.approx(depth_2yr_in, rel=1e-9)


@pytest.mark.realdata
def test_real_inches_and_millimetres_of_one_point_agree(data_dir: Path) -> None:
    inches = read_rainfall(data_dir / "rainfall" / "intensity_inhr_PDS_point_39_-105.csv")
    millimetres = read_rainfall(data_dir / "rainfall" / "intensity_mmhr_PDS_point_39_-105.csv")
    for row, hours in enumerate(millimetres.durations_h):
        other = inches.depth_mm[inches.durations_h.index(hours)]
        half_mm = 0.5 * hours
        assert np.abs(np.subtract(millimetres.depth_mm[row], other)).max() < half_mm + 0.005 * max(other)


@pytest.mark.realdata
def test_real_table_without_its_header_is_refused(data_dir: Path) -> None:
    with pytest.raises(InputError, match="does not say its unit"):
        read_rainfall(data_dir / "rainfall" / "depth_in_headerless_gulf_coast.csv")


def test_empty_lines_may_stand_between_the_header_and_its_rows(tmp_path: Path) -> None:
    assert _depth_in(read_rainfall(_write(tmp_path, _table(rows=("\n", ",,\n", *ROWS)))), 1, 10) == pytest.approx(1.30)


def test_a_header_with_other_words_below_has_no_rows(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="has no estimates"):
        read_rainfall(_write(tmp_path, _table(rows=("not available here\n", *ROWS))))
