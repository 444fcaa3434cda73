"""Where things stand in the repository, said once: a test may then move to any depth."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
