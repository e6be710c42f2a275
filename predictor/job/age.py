"""Whether the catches behind an advice are of another season than the day for which it is given."""

from __future__ import annotations

import datetime
from dataclasses import replace

from predictor.advice.result import Advice
from predictor.domain.result import Remark
from predictor.files.entry import SAME_SEASON_DAYS


def with_age(advice: Advice, today: datetime.date) -> Advice:
    """The advice, with a remark first where its last catch is of another season.

    Catches without a date say nothing of their age.
    """
    dates = advice.trials.date.tolist()
    if not advice.catches_used or not all(dates):
        return advice
    last = max(dates)
    if (today - datetime.date.fromisoformat(last)).days <= SAME_SEASON_DAYS:
        return advice
    return replace(advice, remarks=(Remark("advice.old_catches", {"day": last}), *advice.remarks))
