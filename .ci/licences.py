"""Print a table of the dependencies and their licences, as their own metadata say."""

from __future__ import annotations

import re
import sys
import tomllib
from importlib.metadata import PackageMetadata, PackageNotFoundError, metadata
from pathlib import Path

_LONGEST = 60


def licence_of(about: PackageMetadata) -> str:
    """Take the licence expression, else the classifiers, else the first line of the licence field."""
    expression = about.get("License-Expression")
    if expression:
        return expression
    classifiers = [text.rpartition(" :: ")[2] for text in about.get_all("Classifier") or () if text.startswith("Lic")]
    stated = (about.get("License") or "").strip().partition("\n")[0]
    return ", ".join(classifiers) or (stated if len(stated) <= _LONGEST else stated[:_LONGEST] + " ...") or "not stated"


def table(project: dict[str, object]) -> str:
    """Make the table of what is installed of a project's dependencies and extras."""
    extras: dict[str, list[str]] = project["optional-dependencies"]  # type: ignore[assignment]
    groups = {"run": project["dependencies"], **extras}
    lines = ["| package | needed for | at least | licence |", "| --- | --- | --- | --- |"]
    for group, requirements in groups.items():
        for requirement in requirements:  # type: ignore[attr-defined]
            name, _, minimum = re.split(r"(>=)", requirement.partition(";")[0])
            try:
                licence = licence_of(metadata(name))
            except PackageNotFoundError:
                licence = "not installed here"
            lines.append(f"| {name} | {group} | {minimum} | {licence} |")
    return "\n".join(lines)


if __name__ == "__main__":
    found = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text(encoding="utf-8"))
    sys.stdout.write(table(found["project"]) + "\n")
