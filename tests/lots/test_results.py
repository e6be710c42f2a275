"""A comparison as a result: compared, hashed, pickled, shown, and as JSON. Every log here is invented."""

import json
import pickle

import pytest

import predictor
from predictor.domain.result import Remark
from predictor.lots.compare import compare_lots
from tests.lots.lot_logs import BOX, log, made_up
from tests.lots.test_lots_thin_logs import CHAIN, log as frame

ROWS = made_up([0.0, 0.1, -0.1], [5, 4, 1], seasons=lambda k, i: str(2024 + i % 2))
LOGS = {
    "lever": (ROWS, BOX, {}),
    "shapes differ": (made_up([0.0] * 3, [6] * 3, dead=[2.0, 12.0, 2.0], cv=0.01), BOX, {"target_output": 40.0}),
    "one catch": ([("A", 30, 25.0)], BOX, {}),
}


@pytest.fixture(params=LOGS)
def found(request):
    rows, box, asked = LOGS[request.param]
    return compare_lots(log(rows), box, **asked)


def test_a_comparison_is_equal_to_one_of_the_same_catches_and_hashes_like_it(found, request):
    rows, box, asked = LOGS[request.node.callspec.params["found"]]
    same, other = compare_lots(log(rows), box, **asked), compare_lots(log(rows), box, level=0.9, **asked)
    assert (found, hash(found)) == (same, hash(same))
    assert found != other


def test_a_comparison_survives_pickling(found):
    back = pickle.loads(pickle.dumps(found))
    assert back == found
    assert back.to_dict() == found.to_dict()
    assert str(back) == str(found)
    assert back.curves.output(0, 30.0) == found.curves.output(0, 30.0)


def test_a_comparison_of_labels_survives_pickling():
    rows = [("A", "low", 50), ("A", "low", 52), ("B", "low", 60), ("B", "high", 90)]
    found = compare_lots(log(rows), "small")
    assert pickle.loads(pickle.dumps(found)) == found


def test_a_comparison_is_shown_in_text_in_a_notebook_and_as_a_picture(found):
    from matplotlib.figure import Figure

    assert str(found) == found.summary()
    assert str(found).startswith("BOX small: ")
    assert max(map(len, str(found).splitlines())) <= 80
    assert found.lots[0].lot in found._repr_html_()
    axes = Figure().subplots()
    assert found.plot(axes) is axes
    assert {found.reference.lot, "a new lot"} <= {text.get_text() for text in axes.texts}


def test_a_comparison_without_catches_is_shown_too():
    from matplotlib import pyplot

    found = compare_lots(frame([("A", 20, 50)], use=["no"]), BOX)
    assert "0 catches" in str(found)
    axes = found.plot()
    assert len(axes.texts) == 1
    pyplot.close(axes.figure)


def test_json_has_the_keys_that_were_promised(found):
    values = found.to_dict()
    assert set(values) == {
        *("box", "reference", "reference_setting", "target_output", "target_given", "level", "adjustment"),
        *("repeatability", "shape", "spread", "seasons", "lots", "catches_used", "left_out", "warnings"),
        *("reference_season", "lots_in_seasons"),
    }
    assert set(values["lots"][0]) == {
        *("lot", "seasons", "catches", "settings", "ratio", "lower", "upper", "at_setting", "setting"),
        *("setting_lower", "setting_upper", "against_average", "unusual", "dead_opening", "notes"),
        *("season", "name", "season_lower", "season_upper"),
    }
    assert set(values["shape"]) == {"same", "test", "dead_opening", "lower", "upper", "assumed", "reason", "limits_at"}
    assert set(values["seasons"]) == {"table", "same_repeatability", "drift", "apart", "reasons"}
    assert set(values["seasons"]["table"][0]) == {
        *("season", "catches", "lots", "repeatability", "ratio", "lower", "upper", "since"),
    }
    for part in (values, *values["seasons"]["table"]):
        assert set(part["repeatability"]) == {"cv", "cv_lower", "cv_upper", "df"}
    if values["spread"] is not None:
        assert set(values["spread"]) == {
            *("lots", "cv", "cv_lower", "cv_upper", "next_lower", "next_upper", "average_to_reference", "unusual"),
            *("reason", "several", "next_setting", "next_setting_lower", "next_setting_upper"),
        }
    json.dumps(values, allow_nan=False)


def test_settings_are_values_and_remarks_sentences_in_json_and_frame():
    rows = [("A", "1", 40), ("A", "1", 41), ("A", "2", 51), ("B", "2", 80)]
    found = compare_lots(frame(rows), CHAIN)
    row = found.to_dict()["lots"][1]
    assert row["settings"] == ["2", "2"]
    assert row["setting"] == found.lot("B").setting.value == found.frame().loc["B", "setting"]
    assert row["notes"] == [str(note) for note in found.lot("B").notes] == found.frame().loc["B", "notes"]
    assert all(isinstance(note, Remark) for note in found.lot("B").notes)


def test_a_lot_that_was_not_compared_has_no_row(found):
    with pytest.raises(KeyError, match="nobody"):
        found.lot("nobody")


def test_the_types_of_a_comparison_are_public(found):
    assert isinstance(found, predictor.LotComparison)
    assert all(isinstance(row, predictor.Lot) for row in found.lots)
