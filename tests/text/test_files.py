"""What the reader of a file had to assume, in sentences."""

from predictor.domain.result import Remark
from predictor.text.files import SENTENCES
from tests import golden

VALUES = {
    "drills_apart": [
        {"file": "trials.csv", "catches": many, "names": ("south", "west")[:many], "drill": "made up"}
        for many in (1, 2)
    ],
    "taken_for_this": [{"file": "trials.csv", "catches": many, "name": "suoth", "drill": "south"} for many in (1, 2)],
    "not_used": [
        {"file": "plan.csv", "columns": ("weather",), "meant": ()},
        {"file": "trials.csv", "columns": ("weather", "field_id", "chargd"), "meant": (("chargd", "charged"),)},
        {"file": "", "columns": tuple(f"mine_{k}" for k in range(20)), "meant": ()},
    ],
    "target_of_trials": [{"lots": ("small K-26", "grain CW-26")[:many]} for many in (1, 2)],
    "signs": [{"separator": sign, "decimal": ","} for sign in ",;\t"],
    "thousands": [{"sign": ","}],
    "month_first": [{}],
    "day_first": [{}],
    "row_in_comment": [{"file": "trials.csv", "lines": (3,)}, {"file": "", "lines": (3, 5)}],
    "other_drill": [{"catches": many, "names": ("south", "west")[:many], "drill": "made up"} for many in (1, 2)],
    "part_caught": [{"box": "small", "lot": "PC-26", "filling": "forb mix"}],
    "target_changed": [
        {"box": "small", "lot": "K-26", "line": line, "then_g": 25.1, "now_g": 30.2, "checked": bool(line)}
        for line in (0, 7)
    ],
    "odd_wheel": [{"metres": metres, "small": metres < 1, "units": "us"} for metres in (0.7, 6.0)],
    "odd_spacing": [{"metres": 0.02, "units": units} for units in ("us", "metric")],
    "odd_width": [{"metres": 30.0, "rows": 60, "units": "us"}],
    "odd_seeds": [{"per_m2": 20.0, "few": True}, {"per_m2": 4000.0, "few": False}],
    "example_drill": [{"covers_m": metres, "units": "us"} for metres in (2.19456, float("nan"))],
    "example_lots": [{"lots": ("example A", "example B")[:many]} for many in (1, 2)],
    "similar_lots": [{"box": "small", "lots": ("CW-26", "cw 26")}],
}


def test_what_was_assumed_is_said():
    assert set(VALUES) == set(SENTENCES)
    said = [str(Remark(f"files.{code}", values)) for code, several in VALUES.items() for values in several]
    golden.check("assumed", "\n".join(said))
