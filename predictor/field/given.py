"""What was taken as given of a field check, and checks that look like copies of others."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Sequence

from predictor.domain.checks import FieldCheck
from predictor.domain.result import Remark

# Two checks this many days apart are of two seasons; weights and area are then hardly the same to the last digit.
OTHER_SEASON_DAYS = 120


def taken_as_given(check: FieldCheck) -> Remark:
    """What no number of a check can show: its area or length, and that all seed was weighed."""
    if check.counted:
        return Remark("field.given_counted", {"row_m": check.row_m})
    how = "used" if check.left_g != check.left_g else "left" if check.left_g > 0 else "nothing_left"
    return Remark("field.given_weighed", {"area_m2": check.area_m2, "how": how})


def copies(checks: Sequence[FieldCheck]) -> list[Remark]:
    """Checks with the very measurements of another: written twice, or copied from an earlier season."""
    found, seen = list[Remark](), set[int]()
    for one, other in itertools.combinations(checks, 2):
        if other.line in seen or _measured(one) != _measured(other):
            continue
        again = one.date == other.date and _lots(one) == _lots(other)
        if again or _days(one, other) > OTHER_SEASON_DAYS:
            seen.add(other.line)
            values = {"line": other.line, "first": one.line, "day": one.date}
            found.append(Remark("field.written_twice" if again else "field.copied", values))
    return found


def _measured(check: FieldCheck) -> tuple[object, ...]:
    """Boxes, settings and what was measured; the same day and field may be given in other words."""
    numbers = check.area_m2, check.used_g, check.seeds, check.row_m
    boxes = tuple((part.box.name, part.setting) for part in check.parts)
    return boxes, tuple(None if each != each else f"{each:.6g}" for each in numbers)


def _lots(check: FieldCheck) -> list[str]:
    return [part.lot.lower() for part in check.parts]


def _days(one: FieldCheck, other: FieldCheck) -> int:
    first, second = (datetime.date.fromisoformat(each.date) for each in (one, other))
    return abs((second - first).days)
