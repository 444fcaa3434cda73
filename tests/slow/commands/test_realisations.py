"""Realisations of elevation error by the command."""

import json

from tests.commands.test_main import LOT, SAMPLES, run

N_REALISATIONS = 50
"""As the README names them."""


def test_realisations_say_which_findings_hold(tmp_path):
    layers = ["--structures", SAMPLES / "structures.geojson", "--driveways", SAMPLES / "driveways.geojson"]
    common = ["site", *LOT, *layers, "--rain-mm", 80]
    result = run(*common, "--realisations", N_REALISATIONS, "--seed", 3, "--out", tmp_path / "with")
    assert result.exit_code == 0, result.stderr
    assert f" within elevation error ({N_REALISATIONS} realisations)" in result.stdout
    found = json.loads((tmp_path / "with" / "result.json").read_text())
    assert (found["criteria"]["n_realisations"], found["criteria"]["error_seed"]) == (N_REALISATIONS, 3)
    note = next(note["text"] for note in found["notes"] if note["subject"] == "confidence")
    assert f"{N_REALISATIONS} realisations" in note and "seed 3" in note
    assert all(f"of {N_REALISATIONS}" in row["confidence"] for row in found["low_spots"])
    # The deepest low spot of the sample, 1.36 m, holds whatever the error.
    assert found["low_spots"][0]["confidence"] == f"holds in {N_REALISATIONS} of {N_REALISATIONS}"
    again = run(*common, "--criteria", tmp_path / "with" / "used_criteria.toml", "--out", tmp_path / "again")
    assert again.exit_code == 0, again.stderr
    assert json.loads((tmp_path / "again" / "result.json").read_text())["low_spots"] == found["low_spots"]
    off = run(*common, "--out", tmp_path / "off")
    assert "Confidence: not assessed" in off.stdout
