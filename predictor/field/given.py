"""What was taken as given of a field check, and checks that look like copies of others."""

from __future__ import annotations

import datetime
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
    alike, found = dict[object, list[FieldCheck]](), dict[tuple[str, int, str], list[int]]()
    for each in checks:
        before = alike.setdefault(_measured(each), [])
        first = next(filter(None, (_copied(one, each) for one in before)), None)
        if first is not None:
            found.setdefault(first, []).append(each.line)
        before.append(each)
    return [
        Remark(code, {"lines": tuple(lines), "first": line, "day": day}) for (code, line, day), lines in found.items()
    ]


def _copied(one: FieldCheck, other: FieldCheck) -> tuple[str, int, str] | None:
    """How a check of the same measurements is a copy of another, and of which; None where it may be measured again."""
    again = one.date == other.date and _lots(one) == _lots(other)
    if not again and _days(one, other) <= OTHER_SEASON_DAYS:
        return None
    return "field.written_twice" if again else "field.copied", one.line, one.date


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
