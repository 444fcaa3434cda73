"""Criteria from a TOML file."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from screening.errors import CriteriaError, InputError
from screening.schema.criteria import Criteria, choose_profile, from_mapping, own_name


def read_criteria(path: Path | str, *, profile: str | None = None) -> Criteria:
    """Read thresholds from a TOML file, at the top level or in tables one level deep.

    Parameters
    ----------
    path
        TOML file of threshold names and values; what it does not name keeps its default. Names of tables are
        headings only. Without a `profile` the name of the file names the set.
    profile
        Published profile that the values of the file stand on; the file may name the same one, or none.

    Raises
    ------
    InputError
        The file cannot be read as TOML.
    CriteriaError
        It names an unknown threshold or one twice, or a value cannot be used; or the two profiles differ.
    """
    path = Path(path)
    if not path.is_file():
        raise InputError("The criteria file is not there", got=str(path), mend="correct the path")
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise InputError(
            "The criteria file is not TOML",
            got=f"{path.name}: {problem}",
            expected="lines such as setback_well_m = 30.5",
            mend="correct that line",
        ) from problem
    values: dict[str, Any] = {}
    for name, value in content.items():
        for threshold, number in (value if isinstance(value, dict) else {name: value}).items():
            if threshold in values:
                raise CriteriaError(
                    f"{threshold} stands twice in the criteria file",
                    got=path.name,
                    expected="once",
                    mend="remove one of the lines",
                )
            values[threshold] = number
    if profile is not None:
        choose_profile(profile)
        if values.setdefault("profile", profile) != profile:
            raise CriteriaError(
                "Two profiles were given",
                got=f"{profile}, and {values['profile']} in {path.name}",
                expected="one",
                mend="leave one of them out",
            )
    # The name of a file alone does not choose a published profile.
    try:
        return from_mapping({"profile": own_name(path.stem), **values})
    except CriteriaError as problem:
        raise CriteriaError(
            f"{problem.what.rstrip('.')} (in {path.name})",
            got=problem.got,
            expected=problem.expected,
            mend=problem.mend,
        ) from problem
