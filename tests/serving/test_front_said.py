"""The page at the drill says one thing in one place, and says what is to be looked at where it is seen."""

import pytest

from tests.serving.tapping import said, save, tap, type_weight

pytestmark = pytest.mark.browser


def test_what_is_on_the_scale_is_said_as_it_was_chosen(opened, laptop):
    """Not that a container is taken off which was said not to be there."""
    laptop.box("small")["catch"]["weighed"] = "with the container of 250 g"
    page = opened()
    tap(page, "MORE")
    tap(page, "CONTAINER")
    tap(page, "Seed alone")
    type_weight(page, "22.9")
    said(page, "22.9 g")
    assert "container" not in page.inner_text("#keypad")
    assert page.inner_text("#hint") == "of seed alone"
    tap(page, "SAVE")
    said(page, "Saved as line")
    assert laptop.posts[-1]["values"]["tare"] == "0"


def test_what_looks_like_a_slip_is_said_with_the_answer_and_at_the_keys(opened, laptop):
    laptop.box("small").update(look_at=["Look at: Lines 3, 5 have the same weights."])
    laptop.box("small")["open"] = [{"text": "Lines 3, 5 have the same weights.", "lines": "3,5"}]
    page = opened()
    said(page, "A lock waits")
    save(page, "22.9")
    said(page, "Look at: Lines 3, 5 have the same weights.")
    tap(page, "KEEP OR LEAVE OUT")
    said(page, "it was weighed so")


def test_a_weight_of_many_rows_is_broken_between_its_weights(opened):
    page = opened()
    type_weight(page, "264.5+264.1+264.8+261.9")
    split = """() => {
      const all = document.createTreeWalker(document.querySelector("#typed"), NodeFilter.SHOW_TEXT);
      const range = document.createRange();
      const found = [];
      while (all.nextNode()) { range.selectNodeContents(all.currentNode); found.push(range.getClientRects().length); }
      return found;
    }"""
    assert set(page.evaluate(split)) == {1}


def test_a_box_without_a_setting_to_use_says_so_above_the_setting(opened, laptop):
    """The setting below it is that of another catch, and not one to plant at."""
    laptop.box("small")["answer"].update(headline="OUT OF REACH, NEAREST 12", verb="out of reach", setting="")
    page = opened()
    said(page, "28 turns")
    assert page.inner_text("#verb") == "OUT OF REACH, NEAREST 12"
