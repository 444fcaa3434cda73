"""Write the outputs of one screening again and again in children that are killed at random moments.

python -m tests.slow.interruption.killed_writes FOLDER NUMBER
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

from screening.models import Rain, SiteRequest
from screening.site.screen import Screening, screen_site
from tests.awkward.ground import write_clean
from tests.slow.interruption.whole_files import check_whole


def kill_writers(screening: Screening, out: Path, n_kills: int) -> int:
    """Kill writers at moments spread over one writing; what is left under final names must be whole."""
    begun = time.monotonic()
    screening.write(out)
    lasts_s, rng, n_killed = time.monotonic() - begun, random.Random(7), 0
    for _ in range(n_kills):
        child = os.fork()
        if child == 0:
            while True:
                screening.write(out)
        time.sleep(rng.uniform(0.0, 1.2) * lasts_s)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        n_killed += os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
        for path in out.iterdir():
            if not path.name.startswith(".writing-"):
                check_whole(path)
    screening.write(out)
    assert not list(out.glob(".writing-*")), "drafts of killed writers are left"
    return n_killed


if __name__ == "__main__":
    folder, number = Path(sys.argv[1]), int(sys.argv[2])
    plain = write_clean(folder / "plain")
    request = SiteRequest(elevation=Path(plain["elevation"]), lots=plain["lots"], structures=plain["structures"])
    found = screen_site(request, rain=Rain(depth_mm=75.0, label="75 mm", source="test"))
    print(f"{kill_writers(found, folder / 'out', number)} writers killed")
