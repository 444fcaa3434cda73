"""The gate runs what the README says, and then what takes long."""

import subprocess

from tests.places import ROOT


def test_the_gate_runs_the_command_of_the_readme():
    """`.ci/run` reads it out of README.md: a heading or a fence that changes must not leave it with nothing."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    written = text.split("\n## Test it\n")[1].split("```sh\n")[1].split("```")[0].strip()
    gate = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    reader = next(line.strip() for line in gate.splitlines() if "$(awk " in line)
    found = subprocess.run(
        ["bash", "-c", f'{reader}; printf "%s" "$command"'], cwd=ROOT, check=True, capture_output=True, text=True
    )
    assert found.stdout == written
    assert "pip install" in written and written.count("pytest") == 1
    assert "tests/slow -n 2" in gate and "pytest tests/benchmarks" in gate
