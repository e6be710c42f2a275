"""What is typed and saved on the page survives whatever happens to the connection, the browser and the laptop."""

import pytest

from tests.serving.laptop import ADDRESS, ODD, asking
from tests.serving.tapping import look, queued, said, save, sent, tap, type_weight

pytestmark = [pytest.mark.browser, pytest.mark.slow]
NO_CLOCK = """
  let calls = 0;
  // each look at the clock finds it years before or after the last one
  const jumps = () => calls++ % 2 ? 0 : 4e12;
  globalThis.Date = class extends Date { constructor() { super(jumps()); } static now() { return jumps(); } };
"""


def test_catches_that_cannot_be_sent_wait_and_are_sent_once_and_in_order(opened, laptop):
    page = opened()
    said(page, "SET")
    laptop.down = True
    save(page, "22.9")
    said(page, "It waits here. It is sent when the laptop answers.")
    tap(page, "TO THE KEYS")
    said(page, "1 catch waits: 22.9 g, small. It is sent when the laptop answers.")
    tap(page, "grain")
    save(page, "28.5")
    said(page, "It waits here.")
    tap(page, "TO THE KEYS")
    said(page, "2 catches wait: 22.9 g, small; 28.5 g, grain. They are sent when the laptop answers.")
    assert laptop.posts == []
    laptop.down = False
    look(page)
    sent(page)
    assert laptop.weights() == ["22.9", "28.5"]
    assert len(laptop.posts) == 2
    said(page, "Saved as line 3: 28.5.")


def test_the_page_sends_by_itself_when_the_laptop_is_back(opened, laptop):
    page = opened()
    said(page, "SET")
    laptop.down = True
    save(page, "22.9")
    said(page, "It waits here.")
    laptop.down = False
    page.get_by_text("Saved as line 2: 22.9.").wait_for(timeout=9000)
    assert laptop.weights() == ["22.9"]


def test_a_save_whose_answer_is_lost_is_sent_again_under_its_id(opened, laptop):
    laptop.lost = 2
    page = opened()
    save(page, "22.9")
    for _ in range(3):
        look(page)
        page.wait_for_timeout(300)
    sent(page)
    assert len(laptop.posts) == 3
    assert len({each["id"] for each in laptop.posts}) == 1
    assert laptop.weights() == ["22.9"]


@pytest.mark.parametrize("status", [401, 403, 409, 429])
def test_an_entry_waits_while_the_door_is_shut(opened, laptop, status):
    shut = [status]
    laptop.reply = lambda entry: shut[0]
    page = opened()
    save(page, "22.9")
    said(page, "It waits here. The laptop refuses this.")
    assert len(queued(page)) == 1
    shut[0] = None
    look(page)
    said(page, "Saved as line 2: 22.9.")
    assert laptop.weights() == ["22.9"]


def test_what_the_laptop_is_unsure_of_is_sent_again(opened, laptop):
    unsure = {"result": "unsure", "said": ["It may be on disk."]}
    laptop.reply = lambda entry: unsure if len(laptop.posts) == 1 else None
    page = opened()
    save(page, "22.9")
    said(page, "It may be on disk. It is sent again.")
    look(page)
    said(page, "Saved as line 2: 22.9.")
    assert len({each["id"] for each in laptop.posts}) == 1


def test_an_entry_that_is_refused_is_tried_again_or_given_up(opened, laptop):
    full = {"result": "refused", "said": ["Nothing was saved: no space left on device."]}
    laptop.reply = lambda entry: full if len(laptop.posts) != 2 else None
    page = opened()
    save(page, "22.9")
    said(page, "no space left on device")
    look(page)
    page.wait_for_timeout(300)
    assert len(laptop.posts) == 1  # it waits for the person
    tap(page, "TRY AGAIN")
    said(page, "Saved as line 2: 22.9.")
    tap(page, "NEXT CATCH")
    save(page, "23")
    said(page, "no space left on device")
    page.go_back()
    said(page, "23 g, small is not saved.")
    tap(page, "23 g, small is not saved.")
    tap(page, "GIVE UP")
    said(page, "SET")
    assert page.inner_text("#typed") == "23 g"
    assert queued(page) == []


def test_a_catch_that_has_no_place_on_the_keys_any_more_waits_for_the_person(opened, laptop):
    again = {"result": "again", "said": ["Nothing was saved. Look at the page, and enter the catch again."]}
    page = opened()
    said(page, "SET")
    laptop.down = True
    save(page, "22.9")
    tap(page, "TO THE KEYS")
    type_weight(page, "31")
    laptop.reply, laptop.down = (lambda entry: again), False
    look(page)
    said(page, "22.9 g, small is not saved.")
    assert page.inner_text("#typed") == "31 g"
    assert [each["values"]["catch"] for each in queued(page)] == ["22.9"]
    laptop.reply = lambda entry: None
    tap(page, "22.9 g, small is not saved.")
    tap(page, "TRY AGAIN")
    said(page, "Saved as line 2: 22.9.")


def test_a_question_holds_back_what_was_saved_after_it(opened, laptop):
    laptop.reply = asking(ODD, lambda entry: entry["values"]["catch"] != "99" or entry["answers"])
    page = opened()
    save(page, "99")
    said(page, ODD["text"])
    page.go_back()
    said(page, "99 g, small: a question waits.")
    save(page, "23")
    said(page, "It waits until the entries before it are sent.")
    look(page)
    page.wait_for_timeout(300)
    assert len(laptop.posts) == 1
    tap(page, "TO THE KEYS")
    tap(page, "99 g, small: a question waits.")
    tap(page, "It is right")
    sent(page)
    assert laptop.weights() == ["99", "23"]


def test_a_reload_keeps_what_is_typed(opened, laptop):
    page = opened()
    type_weight(page, "20.1+2")
    tap(page, "grain")
    type_weight(page, "7")
    page.reload()
    said(page, "LOCK AT")
    assert page.inner_text("#typed") == "7 g"
    tap(page, "small")
    assert page.inner_text("#typed") == "20.1+2 g"
    assert laptop.posts == []


def test_a_reload_keeps_the_question_and_what_is_typed_in_answer(opened, laptop):
    asked = {**ODD, "key": "turns", "text": "How many turns", "input": "number", "choices": []}
    laptop.reply = asking(asked, lambda entry: entry["answers"])
    page = opened()
    save(page, "22.9")
    said(page, "How many turns")
    type_weight(page, "14")
    page.reload()
    said(page, "How many turns")
    assert len(laptop.posts) == 1
    tap(page, "OK: 14")
    said(page, "Saved as line 2")
    assert laptop.posts[-1]["answers"] == {"turns": "14"}


def test_a_reload_keeps_what_waits(opened, laptop):
    laptop.reply = lambda entry: 429
    page = opened()
    save(page, "22.9")
    said(page, "It waits here.")
    (entry,) = queued(page)
    laptop.reply = lambda entry: None
    page.reload()
    sent(page)
    assert laptop.weights() == ["22.9"]
    assert list(laptop.rows) == [entry["id"]]


def test_back_and_forward_send_nothing(opened, laptop):
    page = opened()
    save(page, "22.9")
    said(page, "Saved as line 2")
    tap(page, "MORE")
    said(page, "Look at")
    for step, text in ((page.go_back, "Saved as line 2"), (page.go_back, "28 turns"), (page.go_forward, "Saved as")):
        step()
        said(page, text)
    tap(page, "NEXT CATCH")
    said(page, "28 turns")
    assert len(laptop.posts) == 1
    assert page.evaluate("history.state ? history.state.depth : 0") == 0  # one step leaves the page


def test_a_clock_that_jumps_changes_nothing(opened, laptop):
    page = opened()
    page.add_init_script(NO_CLOCK)
    page.reload()
    assert page.evaluate("Math.abs(Date.now() - Date.now())") == 4e12
    said(page, "SET")
    laptop.down = True
    save(page, "22.9")
    said(page, "It waits here.")
    laptop.down = False
    look(page)
    said(page, "Saved as line 2: 22.9.")
    assert laptop.posts[0]["day"] == laptop.state["day"]


def test_of_two_tabs_one_sends(opened, laptop):
    page = opened()
    said(page, "SET")
    other = page.context.new_page()
    other.goto(ADDRESS)
    said(other, "SET")
    laptop.down = True
    save(page, "22.9")
    said(page, "It waits here.")
    laptop.down = False
    for _ in range(3):
        look(page)
        look(other)
    sent(page)
    assert [each["values"]["catch"] for each in laptop.posts] == ["22.9"]
    page.close()  # the other one takes over
    save(other, "23")
    other.get_by_text("Saved as line 3: 23.").wait_for(timeout=15000)
    assert laptop.weights() == ["22.9", "23"]


def test_oops_on_a_catch_that_may_be_saved_is_sent_behind_it(opened, laptop):
    laptop.lost = 1
    page = opened()
    save(page, "22.9")
    said(page, "It waits here.")
    tap(page, "OOPS")
    sent(page)
    assert [each["kind"] for each in laptop.posts] == ["catch", "catch", "undo"]
    assert laptop.weights() == []


def test_oops_on_a_catch_that_was_never_sent_gives_it_back(opened, laptop):
    laptop.down = False
    laptop.reply = lambda entry: 429
    page = opened()
    save(page, "22.9")
    said(page, "It waits here.")
    tap(page, "TO THE KEYS")
    save(page, "23")
    said(page, "It waits")
    tap(page, "OOPS")
    said(page, "28 turns")
    assert page.inner_text("#typed") == "23 g"
    assert [each["values"]["catch"] for each in queued(page)] == ["22.9"]


def test_what_waits_for_another_job_stays(opened, laptop):
    laptop.reply = lambda entry: 409
    page = opened()
    save(page, "22.9")
    said(page, "It waits here.")
    laptop.reply, first = lambda entry: None, laptop.state["job"]
    laptop.state["job"] = "f" * 32
    laptop.changed()
    look(page)
    tap(page, "MORE")
    said(page, "1 entry of another job waits in this browser.")
    assert laptop.weights() == []
    laptop.state["job"] = first
    laptop.changed()
    look(page)
    sent(page)
    assert laptop.weights() == ["22.9"]


def test_a_browser_that_keeps_nothing_says_so_and_still_saves(opened, laptop):
    page = opened()
    page.add_init_script("Storage.prototype.setItem = () => { throw new Error('full'); };")
    page.reload()
    type_weight(page, "22")
    said(page, "This browser keeps nothing.")
    tap(page, "SAVE 22 g")
    said(page, "Saved as line 2: 22.")
    assert laptop.weights() == ["22"]
