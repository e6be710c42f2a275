"""The page at the drill, alone: what is tapped is shown, kept, sent once and in order, whatever the connection does."""

import pytest

from tests.serving.laptop import CAUTIONS, ODD, SERVING, asking
from tests.serving.tapping import button, look, queued, said, save, tap, type_weight

pytestmark = pytest.mark.browser
# ---- the catch


def test_a_catch_is_typed_saved_and_answered(opened, laptop):
    page = opened()
    assert "98 in 100" not in page.inner_text("main:visible")  # nothing invites to read the weight towards a lock
    type_weight(page, "22.9")
    assert page.inner_text("#typed") == "22.9 g"
    assert page.inner_text("#save") == "SAVE 22.9 g"
    tap(page, "SAVE")
    said(page, "Saved as line 2: 22.9.")
    shown = page.inner_text("#decision")
    for each in ("SET 14.5", "not caught there yet: 98 in 100 that", "20.9 to 25.8 g is usual", "28 turns", CAUTIONS):
        assert each in shown
    tap(page, "NEXT CATCH")
    assert page.inner_text("#typed") == "– g"
    assert laptop.weights() == ["22.9"]


def test_what_was_typed_and_shown_is_what_is_sent(opened, laptop):
    page = opened()
    save(page, "20.1+21+20.4o")
    said(page, "Saved as line 2")
    (entry,) = laptop.posts
    assert entry["values"] == {"box": "small", "lot": "forb mix", "catch": "20.1+21+20.4 oz"}
    assert entry["shown"] == {
        "lot": "forb mix",
        "setting": "14.5",
        "turns": "28",
        "rows": "3",
        "counted": "wheel turns",
        "made": "28 turns, 3 rows",
        "weighed": "of seed alone",
    }
    assert (entry["kind"], entry["day"], entry["job"]) == ("catch", "2026-11-27", laptop.state["job"])
    assert (len(entry["id"]), entry["id"][0]) == (32, "a")  # no spreadsheet takes it for a number
    assert set(entry["id"]) <= set("0123456789abcdef")
    assert set(entry) == {"id", "kind", "job", "day", "shown", "values", "answers"}


@pytest.mark.parametrize(
    ("keys", "typed"),
    [
        ("2..5", "2.5"),
        ("+7.1/7.3", "7.1/7.3"),
        ("7++2", "7+2"),
        ("2.1oo", "2.1"),
        ("2.1o5", "2.1 oz"),
        ("2.1o+3o", "2.1 oz+3 oz"),
        ("12⌫⌫⌫3", "3"),
        ("2o⌫1", "21"),
    ],
)
def test_keys_make_only_weights_that_can_be_meant(opened, keys, typed):
    page = opened()
    type_weight(page, keys)
    assert page.inner_text("#typed") in (typed, f"{typed} g")


def test_rows_and_parts_are_not_mixed(opened):
    page = opened()
    type_weight(page, "7/")
    assert button(page, "+ row").is_disabled()
    type_weight(page, "⌫+")
    assert button(page, "/ part").is_disabled()


def test_saving_nothing_sends_nothing(opened, laptop):
    page = opened()
    tap(page, "SAVE")
    said(page, "Type the weight first.")
    assert laptop.posts == []


def test_a_second_tap_at_once_is_ignored(opened, laptop):
    page = opened()
    where = button(page, "5").bounding_box()
    middle = where["x"] + where["width"] / 2, where["y"] + where["height"] / 2
    page.wait_for_timeout(200)
    page.touchscreen.tap(*middle)
    page.touchscreen.tap(*middle)
    assert page.inner_text("#typed") == "5 g"
    page.wait_for_timeout(200)
    page.touchscreen.tap(*middle)
    assert page.inner_text("#typed") == "55 g"


@pytest.mark.parametrize("apart_ms", [0, 220])
def test_a_double_tap_on_save_saves_once_and_answers_no_question(opened, laptop, apart_ms):
    # its key OK is where SAVE was
    laptop.reply = asking({**ODD, "input": "number", "usual": "28", "choices": []}, lambda entry: entry["answers"])
    page = opened()
    type_weight(page, "99")
    where = button(page, "SAVE").bounding_box()
    page.wait_for_timeout(200)
    page.touchscreen.tap(where["x"] + 170, where["y"] + 20)
    page.wait_for_timeout(apart_ms)
    page.touchscreen.tap(where["x"] + 170, where["y"] + 20)
    said(page, ODD["text"])
    page.wait_for_timeout(600)
    assert len(laptop.posts) == 1
    assert page.inner_text("main:visible h1") == "99 g, small"


def test_oops_takes_back_what_was_saved_and_says_so(opened, laptop):
    page = opened()
    save(page, "22.9")
    said(page, "Saved as line 2")
    tap(page, "OOPS")
    said(page, "22.9 is unused.")
    undo = laptop.posts[-1]
    assert (undo["kind"], undo["values"]) == ("undo", {"file": "trials", "entry": laptop.posts[0]["id"]})
    assert laptop.weights() == []
    assert not button(page, "OOPS").is_visible()


def test_the_next_catch_is_of_the_box_that_is_left(opened, laptop):
    page = opened()
    tap(page, "chaffy")
    save(page, "53")
    said(page, "Saved as line 2")
    assert "ready" in page.get_attribute("#decision .head", "class")
    tap(page, "NEXT CATCH: small")
    assert page.inner_text("#lot") == "small, forb mix"


def test_a_keyboard_works_too(opened, laptop):
    page = opened()
    said(page, "SET")
    for key in ("2", "2", ",", "8", "Backspace", "9", "+", "o"):
        page.keyboard.press(key)
    assert page.inner_text("#typed") == "22.9+ g"
    page.keyboard.press("3")
    page.keyboard.press("Enter")
    said(page, "Saved as line 2")
    assert laptop.weights() == ["22.9+3"]


def test_another_lot_setting_size_and_person_are_sent_where_they_were_chosen(opened, laptop):
    laptop.box("chaffy")["lots"] = ["tall mix", "short mix"]
    page = opened()
    tap(page, "chaffy")
    for label, choice in (("OTHER LOT", "short mix"), ("OTHER SETTING", "3")):
        tap(page, "MORE")
        tap(page, label)
        tap(page, choice)
    tap(page, "MORE")
    tap(page, "OTHER LENGTH")
    type_weight(page, "14")
    tap(page, "OK: 14")
    tap(page, "MORE")
    tap(page, "WHO WEIGHS")
    page.fill("#field input", "  Alex ")
    tap(page, "OK")
    tap(page, "MORE")
    tap(page, "NOT CHARGED")
    tap(page, "BACK")
    assert page.inner_text("#setting") == "3"
    assert page.inner_text("#lot") == "chaffy, short mix"
    assert "14 wheel turns, 3 rows" in page.inner_text("#size")
    save(page, "26")
    said(page, "Saved as line 2")
    assert laptop.posts[0]["values"] == {
        "box": "chaffy",
        "lot": "short mix",
        "setting": "3",
        "turns": "14",
        "catch": "26",
        "operator": "Alex",
        "charged": "no",
    }
    tap(page, "NEXT CATCH")
    assert laptop.posts[0]["shown"]["lot"] == "short mix"


def test_a_towed_catch_has_a_distance_in_place_of_turns(opened, laptop):
    page = opened()
    page.locator("#target").get_by_text("Target").wait_for()
    tap(page, "MORE")
    tap(page, "TOWED")
    said(page, "Nobody rides on a towed drill.")
    assert page.inner_text("#give-up").split("\n") == ["BACK", "change nothing"]
    type_weight(page, "150")
    tap(page, "OK: 150")
    assert "150 ft, 3 rows" in page.inner_text("#size")
    assert "Target" not in page.inner_text("#target")  # it is that of the catch that was asked for
    save(page, "26")
    said(page, "Saved as line 2")
    assert (laptop.posts[0]["values"]["turns"], laptop.posts[0]["values"]["counted"]) == ("150", "ft")
    assert laptop.posts[0]["shown"]["counted"] == "ft"


# ---- questions


@pytest.mark.parametrize(
    ("choice", "answers", "values"),
    [
        ("It is right", {"far": "y"}, {}),
        ("The meters", {}, {"charged": "no"}),
        ("Bridged", {"far": "y"}, {"use": "no", "note": "bridged or spilled"}),
    ],
)
def test_an_odd_weight_is_asked_about_and_one_tap_answers(opened, laptop, choice, answers, values):
    laptop.reply = asking(ODD, lambda entry: entry["answers"] or "charged" in entry["values"])
    page = opened()
    save(page, "99")
    said(page, ODD["text"])
    tap(page, choice)
    said(page, "Saved as line 2")
    first, second = laptop.posts
    assert second["id"] == first["id"]
    assert second["answers"] == answers
    assert second["values"] == {**first["values"], **values}


def test_a_misread_weight_is_typed_again(opened, laptop):
    laptop.reply = asking(ODD, lambda entry: entry["values"]["catch"] == "9")
    page = opened()
    save(page, "99")
    tap(page, "Misread")
    said(page, "Nothing was saved.")
    assert page.inner_text("#typed") == "99 g"
    type_weight(page, "⌫")
    tap(page, "SAVE 9 g")
    said(page, "Saved as line 2: 9.")
    assert laptop.posts[0]["id"] != laptop.posts[1]["id"]


def test_a_weight_that_is_typed_in_place_of_another_is_the_only_one_that_is_sent(opened, laptop):
    """Else the laptop could save the first one, once another catch has made it look right."""
    weigh = {**ODD, "key": "weight (2)", "text": "Weight", "name": "catch", "input": "weight", "choices": []}
    odd = {**ODD, "choices": [{"label": "Misread: type it again", "answer": "n"}]}

    def reply(entry):
        if entry["values"]["catch"] == "9":
            return None
        return {"result": "ask", "question": weigh if entry["answers"] else odd}

    laptop.reply = reply
    page = opened()
    save(page, "99")
    tap(page, "Misread")
    said(page, "Weight")
    type_weight(page, "9")
    tap(page, "OK: 9")
    said(page, "Saved as line 2: 9.")
    assert [(each["values"]["catch"], each["answers"]) for each in laptop.posts] == [
        ("99", {}),
        ("99", {"far": "n"}),
        ("9", {}),
    ]


def test_an_entry_the_laptop_gives_up_goes_back_to_the_keys(opened, laptop):
    laptop.reply = lambda entry: {"result": "again", "said": ["Nothing was saved. Record it again."]}
    page = opened()
    save(page, "99")
    said(page, "Nothing was saved. Record it again.")
    assert page.inner_text("#typed") == "99 g"
    assert queued(page) == []


@pytest.mark.parametrize(("typed", "answer"), [("12.5", "12.5"), ("", "28")])
def test_a_number_is_answered_on_the_keys_or_as_usual(opened, laptop, typed, answer):
    asked = {**ODD, "key": "turns", "text": "How many turns", "input": "number", "usual": "28", "choices": []}
    laptop.reply = asking({**asked, "problem": "900 is out of range."}, lambda entry: entry["answers"])
    page = opened()
    tap(page, "MORE")
    tap(page, "PLANTED")
    said(page, "900 is out of range.")
    type_weight(page, typed)
    tap(page, f"OK: {answer}")
    said(page, "Saved as line 2")
    assert laptop.posts[-1]["answers"] == {"turns": answer}
    assert (laptop.posts[-1]["kind"], laptop.posts[-1]["values"]) == ("plant", {"box": "small"})


def test_a_text_is_typed_or_chosen_and_may_be_empty(opened, laptop):
    asked = {**ODD, "key": "field", "text": "Field", "input": "text", "usual": "north"}
    asked["choices"] = [{"label": "no name", "answer": ""}]
    laptop.reply = asking(asked, lambda entry: len(entry["answers"]) > 0)
    page = opened()
    for act, answer in ((lambda: tap(page, "OK"), "hill"), (lambda: tap(page, "no name"), "")):
        tap(page, "MORE")
        tap(page, "FIELD CHECK")
        page.locator("main:visible #field input").wait_for()
        assert page.input_value("#field input") == "north"
        page.fill("#field input", "hill")
        act()
        said(page, "Saved as line")
        assert laptop.posts[-1]["answers"] == {"field": answer}
        tap(page, "TO THE KEYS")


def test_a_finding_is_confirmed_or_left_out(opened, laptop):
    laptop.box("small")["open"] = [{"text": "Lines 3 and 5 differ.", "lines": "3,5"}]
    page = opened()
    for label, kind in (("KEEP", "confirm"), ("LEAVE OUT", "leave_out")):
        tap(page, "MORE")
        tap(page, label)
        said(page, "Saved as line")
        entry = laptop.posts[-1]
        assert entry["kind"] == kind
        assert entry["values"] == {"box": "small", "lines": "3,5", "text": "Lines 3 and 5 differ."}
        tap(page, "TO THE KEYS")


def test_the_last_catch_of_another_day_can_be_taken_back(opened, laptop):
    laptop.box("small")["last"] = {"line": 7, "text": "forb mix: 22.9 g at 14.5 in 28 turns, 3 rows"}
    page = opened()
    tap(page, "MORE")
    tap(page, "OOPS")
    said(page, "It is unused.")
    text = laptop.box("small")["last"]["text"]
    assert laptop.posts[-1]["values"] == {"file": "trials", "line": "7", "text": text}


# ---- what is shown


def test_pages_to_look_at_are_opened_beside_this_one(opened):
    page = opened()
    tap(page, "MORE")
    found = {each.inner_text(): each.get_attribute("href") for each in page.locator("#more-text a").all()}
    assert found == {
        "LOG AND PICTURE": "/log?box=small",
        "SETTING CARD": "/card",
        "DECISION CARD": "/decision",
        "SEASON’S RECORD": "/record",
    }
    assert all(each.get_attribute("target") == "_blank" for each in page.locator("#more-text a").all())


def test_what_another_phone_saved_is_shown(opened, laptop):
    page = opened()
    page.locator("#setting").get_by_text("14.5").wait_for()
    laptop.box("small").update(tab="LOCK AT 15", ready=True)
    laptop.box("small")["answer"].update(verb="lock at", setting="15")
    laptop.box("small")["catch"].update(setting="15")
    type_weight(page, "2")
    look(page)
    page.wait_for_timeout(300)
    assert page.inner_text("#setting") == "14.5"  # the same version is not asked for twice
    laptop.changed()
    page.get_by_text("LOCK AT 15").wait_for(timeout=8000)
    assert page.inner_text("#setting") == "15"
    assert page.get_attribute("#panel", "class") == "ready"
    assert page.inner_text("#typed") == "2 g"


def test_markup_in_names_is_text(opened, laptop):
    name = '<img src=x onerror="document.title=1"><b>mix'
    laptop.box("small")["catch"]["lot"] = laptop.box("small")["lot"] = name
    laptop.reply = lambda entry: {"result": "again", "said": [name]}
    page = opened()
    assert page.inner_text("#lot") == f"small, {name}"
    save(page, "2")
    said(page, name)
    tap(page, "MORE")
    said(page, name)
    assert page.locator("img").count() == 0


def test_more_boxes_than_fit_are_a_list(opened, laptop):
    more = [{**laptop.box("small"), "box": f"box {k}"} for k in range(5)]
    laptop.state["boxes"] += more
    page = opened()
    tap(page, "OTHER BOX")
    tap(page, "box 3")
    assert page.inner_text("#lot") == "box 3, forb mix"


def test_a_job_that_cannot_be_read_says_why(opened, laptop):
    laptop.state.update(boxes=[], problems=["drill.toml: rows is not a number."])
    page = opened()
    said(page, "drill.toml: rows is not a number.")


def test_the_page_is_small():
    files = [each for each in SERVING.rglob("drill.*") if each.is_file()]
    assert len(files) == 3
    assert 20_000 < sum(each.stat().st_size for each in files) < 60_000
