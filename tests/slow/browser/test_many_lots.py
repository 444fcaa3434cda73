"""The page of many lots in a real browser: map and table are linked."""

import pytest

from screening.batch.page import lots_page
from tests.batch.test_page import lots

pytestmark = pytest.mark.browser


def test_map_and_table_are_linked(browser, tmp_path):
    path = tmp_path / "lots.html"
    path.write_text(lots_page(lots(2000), title="many"), encoding="utf-8")
    page = browser.new_page()
    problems = []
    page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: problems.append(str(error)))
    page.goto(path.as_uri())
    page.wait_for_selector("body[data-ready=yes]")
    assert page.text_content("#count") == "2,000 of 2,000 lots"
    assert 5 < page.locator(".row").count() < 100
    page.fill("#text", "L-1999")
    assert page.text_content("#count") == "1 of 2,000 lots"
    page.click(".row")
    assert "L-1999" in page.text_content("#detail")
    page.locator("#map").click()  # the chosen lot is amid the map: what is clicked is the lot itself
    assert "L-1999" in page.text_content("#detail")
    assert page.locator(".row.chosen").count() == 1
    page.fill("#text", "")
    page.evaluate("document.getElementById('rows').scrollTop = 9000")
    page.fill("#text", "L-1")
    assert page.evaluate("document.getElementById('rows').scrollTop") == 0
    page.focus("#rows")
    for key in ("ArrowDown", "ArrowUp", "ArrowUp", "ArrowDown"):
        page.keyboard.press(key)
    # The chosen L-1999 is the last of those whose id begins so: there is none below it.
    chosen = page.locator(".row.chosen")
    assert chosen.count() == 1 and chosen.is_visible()
    assert chosen.locator("span").nth(1).text_content() == "L-1998"
    assert "L-1998" in page.text_content("#detail")
    assert problems == []
