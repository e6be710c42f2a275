"""Where the setting of a first catch is from, to follow the setting."""

from __future__ import annotations

from collections.abc import Callable

from predictor.domain.result import Remark
from predictor.format import count

SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "same_lot": "from the same lot in {season}",
    "earlier_lots": lambda remark: f"from {count(remark['lots'], 'earlier lot')}",
    "middle": "the middle of the control",
}
