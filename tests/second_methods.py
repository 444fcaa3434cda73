"""Published methods that the toolkit does not use, in the units they were printed in, to hold beside its own.

Each is checked against its worked example in `test_second_methods.py` before it is used as a reference.
"""


def kinematic_sheet_time_min(n, length_ft, slope, in_h):
    """HEC-22 (3rd ed., FHWA 2009) equation 3-3."""
    return 0.933 / in_h**0.4 * (n * length_ft / slope**0.5) ** 0.6


def kinematic_time_min(n, length_ft, slope, intensity, other_min=0.0, start_min=10.0):
    """The same, with the intensity of the time of concentration that comes out (HEC-22 section 3.2.2.3)."""
    sheet = start_min
    for _ in range(200):
        found = kinematic_sheet_time_min(n, length_ft, slope, intensity(sheet + other_min))
        if abs(found - sheet) < 1e-9:
            break
        sheet = found
    return sheet


def intercept_speed_ft_s(k, slope):
    """HEC-22 equation 3-4: V = 3.28 k Sp^0.5 with the slope in percent."""
    return 3.281 * k * (100.0 * slope) ** 0.5


def channel_time_min(length_ft, slope):
    """Kirpich (1940), small farm basins with channels; constant from memory."""
    return 0.0078 * length_ft**0.77 * slope**-0.385


def overland_time_min(coefficient, length_ft, slope):
    """FAA AC 150/5320, airfields; from memory."""
    return 1.8 * (1.1 - coefficient) * length_ft**0.5 / (100.0 * slope) ** (1 / 3)


def watershed_lag_h(length_ft, curve_number, land_slope_pct):
    """NEH 630 chapter 15, equation 15-4; from memory."""
    return length_ft**0.8 * (1000.0 / curve_number - 9.0) ** 0.7 / (1900.0 * land_slope_pct**0.5)


def sheet_length_limit_ft(n, slope):
    """NEH 630 chapter 15 (McCuen and Spiess); from memory."""
    return 100.0 * slope**0.5 / n


def storage_ratio(out_over_in, distribution):
    """TR-55 (1986) Table F-2: storage over runoff for peak outflow over peak inflow."""
    early = distribution in ("I", "IA")
    c = (0.660, -1.76, 1.96, -0.730) if early else (0.682, -1.43, 1.64, -0.804)
    return sum(part * out_over_in**power for power, part in enumerate(c))


def triangular_storage_ft3(in_cfs, out_cfs, time_s):
    """HEC-22 equation 8-1."""
    return 0.5 * time_s * (in_cfs - out_cfs)


def grate_efficiency(front_flow_share, side_capture, front_capture=1.0):
    """HEC-22 equation 4-21: of a grate on a slope, by what comes over its front and past its side."""
    return front_capture * front_flow_share + side_capture * (1.0 - front_flow_share)


def gutter_flow_cfs(n, cross_slope, slope, spread_ft):
    """HEC-22 equation 4-2, of a gutter of one cross slope."""
    return 0.56 / n * cross_slope**1.67 * slope**0.5 * spread_ft**2.67


def front_flow_share(grate_ft, spread_ft):
    """HEC-22 equation 4-16, of a gutter of one cross slope."""
    return 1.0 - (1.0 - grate_ft / spread_ft) ** 2.67


def side_capture(speed_ft_s, cross_slope, grate_length_ft):
    """HEC-22 equation 4-19: share of what runs past a grate that it takes from the side."""
    return 1.0 / (1.0 + 0.15 * speed_ft_s**1.8 / (cross_slope * grate_length_ft**2.3))
