"""Where a first setting is from, in words."""

from predictor.domain.result import Remark
from predictor.text.first import SENTENCES
from tests import golden

VALUES = {"same_lot": [{"season": "2025"}], "earlier_lots": [{"lots": 1}, {"lots": 3}], "middle": [{}]}


def test_where_a_first_setting_is_from_is_said():
    assert set(VALUES) == set(SENTENCES)
    said = [str(Remark(f"first.{code}", values)) for code, several in VALUES.items() for values in several]
    golden.check("first-settings", "\n".join(said))
