"""Make the worked example in `maps/example`, its pictures and the gallery: needs the test extra, Chromium and poppler.

python maps/make_example.py
"""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from screening import Criteria, choose_rain, demo_request, screen_site
from screening.models import BlockResult
from screening.report import summarize
from screening.site.samples import samples_dir

HERE = Path(__file__).resolve().parent
EXAMPLE = HERE / "example"
LOT = "TR-19"
KEPT = ("map.html", "summary.csv", "used_criteria.toml", f"brief_{LOT}.pdf")
WIDE, TALL = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
PICTURES: dict[str, str] = {
    "map.png": "The map of the sample neighbourhood on a desktop, flagged lots listed beside it",
    "lot.png": f"Lot {LOT} chosen: its numbers and checks in the panel",
    "table.png": "The table of lots, filtered to walls that water stands against",
    "phone.png": "The map on a phone",
    "brief_1.png": f"First page of the brief of lot {LOT}: what was found, the picture, three numbers, measures",
    "brief_2.png": "Second page of the brief: what to check on site, cautions, data and accuracy",
}
"""Pictures of the gallery with what each shows, in the order in which they stand."""


def take_pictures(page_path: Path) -> None:
    """Take the page on a desktop, one lot with its panel, the filtered table, and a phone, with the network off."""
    arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=arguments)
        page = browser.new_context(viewport=WIDE, offline=True).new_page()
        page.goto(page_path.as_uri())
        _keep(page, "map.png")
        page.get_by_text(f"Lot {LOT}").first.click()
        _keep(page, "lot.png")
        page.locator("#table-exposure").select_option("ponding")
        page.locator("#table-title").scroll_into_view_if_needed()
        page.locator("#table-title").evaluate("heading => heading.scrollIntoView()")
        _keep(page, "table.png")
        phone = browser.new_context(viewport=TALL, offline=True, is_mobile=True, has_touch=True).new_page()
        phone.goto(page_path.as_uri())
        _keep(phone, "phone.png")
        browser.close()


def _keep(page: Page, name: str) -> None:
    page.wait_for_timeout(1000)
    _write_small(page.screenshot(), EXAMPLE / name)


def draw_brief(pdf_path: Path) -> None:
    """Draw the pages of the brief, as its PDF prints."""
    for number in (1, 2):
        page = ("-f", str(number), "-l", str(number))
        command = ["pdftoppm", "-r", "96", "-png", *page, str(pdf_path)]
        drawn = subprocess.run(command, capture_output=True, check=True).stdout
        _write_small(drawn, EXAMPLE / f"brief_{number}.png")


def _write_small(png: bytes, path: Path) -> None:
    """Write a picture with 256 colours: a quarter of the size; colours shift by a few of 255 steps."""
    Image.open(io.BytesIO(png)).convert("RGB").quantize(
        256, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE
    ).save(path, optimize=True)


def gallery(result: BlockResult, title: str) -> str:
    """Give the page of pictures, its words from the result."""
    files = {
        "map.html": "the map, one file that opens without a network",
        f"brief_{LOT}.pdf": f"the brief of lot {LOT}",
        "summary.csv": "the table of lots",
        "used_criteria.toml": "the thresholds, each with its source",
    }
    listed = "\n".join(f"- [{name}](example/{name}): {what}" for name, what in files.items())
    shown = "\n\n".join(f"{words}:\n\n![{words}](example/{name})" for name, words in PICTURES.items())
    return f"""# Maps

Screenings are written here by default and kept out of git, but for one worked example: the sample neighbourhood, an
invented hillside. `python maps/make_example.py` makes it, its pictures and this page again.

{listed}

What the terminal says of it:

```
{summarize(result, title=title)}
```

{shown}
"""


def main() -> None:
    """Screen the sample neighbourhood, keep what a reader opens, take its pictures and write the gallery."""
    criteria, title = Criteria(), "Sample neighbourhood"
    rain = choose_rain(rainfall=samples_dir() / "rainfall.csv", storm="10yr-24h", criteria=criteria)
    screening = screen_site(demo_request(), criteria=criteria, rain=rain, title=title)
    written: dict[str, Any] = screening.write(EXAMPLE, briefs=[LOT])
    for path in written.values():
        if path.name not in KEPT:
            path.unlink()
    take_pictures(EXAMPLE / "map.html")
    draw_brief(EXAMPLE / f"brief_{LOT}.pdf")
    (HERE / "README.md").write_text(gallery(screening.result, title), encoding="utf-8")


if __name__ == "__main__":
    main()
