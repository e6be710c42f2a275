"""What the reader of a file had to assume, in sentences."""

from predictor.domain.result import Remark
from predictor.text.files import SENTENCES
from tests import golden

VALUES = {
    "own_column": [{"column": "chargd", "meant": "charged"}],
    "signs": [{"separator": sign, "decimal": ","} for sign in ",;\t"],
    "thousands": [{"sign": ","}],
    "month_first": [{}],
    "day_first": [{}],
    "row_in_comment": [{"line": 3}],
    "other_drill": [{"catches": many, "names": ("south", "west")[:many], "drill": "made up"} for many in (1, 2)],
    "similar_lots": [{"box": "small", "lots": ("CW-26", "cw 26")}],
}


def test_what_was_assumed_is_said():
    assert set(VALUES) == set(SENTENCES)
    said = [str(Remark(f"files.{code}", values)) for code, several in VALUES.items() for values in several]
    golden.check("assumed", "\n".join(said))
