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
    "row_in_comment": [{"line": 3}],
    "other_drill": [{"catches": many, "names": ("south", "west")[:many], "drill": "made up"} for many in (1, 2)],
    "part_caught": [{"box": "small", "lot": "PC-26", "filling": "forb mix"}],
    "similar_lots": [{"box": "small", "lots": ("CW-26", "cw 26")}],
}


def test_what_was_assumed_is_said():
    assert set(VALUES) == set(SENTENCES)
    said = [str(Remark(f"files.{code}", values)) for code, several in VALUES.items() for values in several]
    golden.check("assumed", "\n".join(said))
