"""Make the worked example in `maps/example` and its pictures: needs the test extra and Chromium."""

from __future__ import annotations

import shutil
from pathlib import Path

from playwright.sync_api import sync_playwright

from screening import Criteria, choose_rain, demo_request, screen_site
from screening.site import samples_dir

EXAMPLE = Path(__file__).resolve().parent / "example"
KEPT = ("map.html", "summary.csv", "used_criteria.toml")
LOT = "Lot TR-19"


def make_pictures(page_path: Path) -> None:
    """Take the whole sample on a desktop, and one lot with its panel, with the network off."""
    arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=arguments)
        page = browser.new_context(viewport={"width": 1280, "height": 800}, offline=True).new_page()
        page.goto(page_path.as_uri())
        page.wait_for_timeout(1000)
        page.screenshot(path=EXAMPLE / "map.png")
        page.get_by_text(LOT).first.click()
        page.wait_for_timeout(1000)
        page.screenshot(path=EXAMPLE / "lot.png")
        browser.close()


def main() -> None:
    """Screen the sample neighbourhood, keep what a reader opens, and take its pictures."""
    criteria = Criteria()
    rain = choose_rain(rainfall=samples_dir() / "rainfall.csv", storm="10yr-24h", criteria=criteria)
    written = screen_site(demo_request(), criteria=criteria, rain=rain, title="Sample neighbourhood").write(EXAMPLE)
    for path in written.values():
        if path.name not in KEPT:
            path.unlink()
    make_pictures(EXAMPLE / "map.html")


if __name__ == "__main__":
    main()
