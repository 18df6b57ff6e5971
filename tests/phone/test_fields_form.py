"""The form asks what the book of fields says: a reading that is one more row, new fields of a customer.

A real Chromium against a desk on a loopback port; nothing of the page is stood in for.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

from sync import rulebook
from sync.wire.schemas import check_op
from tests.support.another_reading import LABEL, NAME, folder_with_reading
from tests.support.browser import Phone
from tests.support.desk import desk_with
from tests.support.hands import choose, confirm_cautions, go_to, hand_in, meaning, start_visit, write
from tests.support.hands import filed as filed_at
from tests.support.service import Service

# Every operation that this phone wrote of a visit.
WRITTEN = """async (id) => {
  const outbox = (await import('/page.js')).$store_outbox.openOutbox();
  return (await outbox.opsOf(id)).map((record) => record.json);
}"""


def written(page: Page, visit: str) -> list[dict[str, Any]]:
    """The operations of a visit in the phone's store."""
    return [json.loads(text) for text in page.evaluate(WRITTEN, visit)]


def test_a_new_reading_is_one_row_of_the_book(lasting: Phone, folder: Path, tmp_path: Path) -> None:
    """It is asked for after the liquid line, in the unit of temperatures, and written as the schema wants it."""
    books = folder_with_reading(tmp_path)
    with desk_with(books, folder) as url:
        page = lasting.open(url, paired=False)
        visit = start_visit(page, "M. Okafor")
        confirm_cautions(page)
        go_to(page, "Before")
        labels = page.locator(".reading label").all_text_contents()
        assert labels.index(LABEL) == labels.index("Liquid line") + 1
        write(page, LABEL, "41,5")
        expect(meaning(page, LABEL)).to_have_text("read as 41.5")
        go_to(page, "Work")
        ops = written(page, visit)
        lasting.close()
    [test] = [op["body"] for op in ops if op["kind"] == "test.add"]
    assert test["readings"] == {NAME: 41.5}
    assert test["typed"] == {NAME: {"text": "41,5", "unit": "c"}}
    more = rulebook.load(books)
    assert [check_op(op, more) for op in ops] == [[]] * len(ops)


def test_a_customer_s_language_and_country_are_asked_for(handset: Phone, service: Service) -> None:
    """One of the languages with words, and a country of two letters, which are filed with the visit."""
    page = handset.open(service.url)
    visit = start_visit(page, "M. Okafor")
    choose(page, "Language of the sheet", "Spanish")
    write(page, "Country", "mx")
    hand_in(page)
    service.stop()
    _, folded = filed_at(service, visit)
    customer = folded["customer"]
    assert (customer["name"], customer["language"], customer["country"]) == ("M. Okafor", "es", "MX")
