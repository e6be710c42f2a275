"""The evidence of a planted line as the text of one cell, from which it is read back exactly."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from hashlib import sha256
from typing import Any, get_args, get_origin, get_type_hints

from predictor.domain.control import Setting
from predictor.domain.drill import SeedBox
from predictor.domain.planted import Evidence
from predictor.files.settings import read_setting
from predictor.files.text import composed

DAMAGED = (
    "This cell was changed after the program wrote it, so its evidence cannot be relied on. Restore the cell from a "
    "copy of the file, or empty it to keep the line without evidence."
)
# A check over the rest, so that no figure is changed unseen.
_CHECKED = re.compile(r'(\{.*),"check":"([0-9a-f]{16})"\}', re.DOTALL).fullmatch


def evidence_cell(evidence: Evidence, setting: Setting, box: str, lot: str) -> str:
    """The text of a cell: JSON in ASCII letters, with the setting, box and lot that its chance and rates are for.

    Neither a spreadsheet nor another encoding changes it.
    """
    values = _plain({"planted": setting.text, "of": [box, lot], **dataclasses.asdict(evidence)})
    body = json.dumps(values, separators=(",", ":"), allow_nan=False)[:-1]
    return f'{body},"check":"{_check(body)}"}}'


def read_evidence(text: str, setting: Setting, box: SeedBox, lot: str) -> Evidence:
    """The evidence in a cell of a line planted at this setting with this lot; raises a ValueError with a sentence."""
    found = _CHECKED(text)
    if found is None or _check(found[1]) != found[2]:
        raise ValueError(DAMAGED)
    try:
        values = json.loads(found[1] + "}")
        evidence: Evidence = _record(values, Evidence)
        planted = read_setting(values["planted"], box.control)
        of_box, of_lot = values.get("of", (box.name, lot))
    except (ValueError, TypeError, KeyError, RecursionError):
        raise ValueError(DAMAGED) from None
    if planted != setting:
        raise ValueError(
            f"The evidence is that of setting {planted}, and the row says {setting}. Correct the setting, or empty "
            "this cell to keep the line without evidence."
        )
    if (_letters(of_box), _letters(of_lot)) != (_letters(box.name), _letters(lot)):
        raise ValueError(
            f"The evidence is that of box {of_box}, lot {of_lot}, and the row says box {box.name}, lot {lot}. Correct "
            "the row, or empty this cell to keep the line without evidence."
        )
    return evidence


def _letters(name: str) -> str:
    """A name as it is compared: in capitals or not, with one space between words."""
    return " ".join(composed(name).lower().split())


def _check(body: str) -> str:
    return sha256(body.encode()).hexdigest()[:16]


def _plain(value: Any) -> Any:
    """A value as JSON has it: null for NaN, and the name of an infinity."""
    if isinstance(value, dict):
        return {name: _plain(each) for name, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None if math.isnan(value) else str(float(value))
    return value


def _record(values: Any, kind: Any) -> Any:
    """A record from its fields by name; an earlier version wrote none that have a value without it.

    Fields that a later version of the program added are passed over.
    """
    hints = get_type_hints(kind)
    there = [
        each.name for each in dataclasses.fields(kind) if each.name in values or each.default is dataclasses.MISSING
    ]
    return kind(**{name: _value(values[name], hints[name]) for name in there})


def _value(value: Any, kind: Any) -> Any:
    """A value of the kind that a field has; raises a ValueError where it is of another."""
    if kind is float:
        if value is None or value in ("inf", "-inf"):
            return math.nan if value is None else float(value)
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            return float(value)
    elif get_origin(kind) is tuple and isinstance(value, list):
        kinds = get_args(kind)
        kinds = (kinds[0],) * len(value) if kinds[-1] is ... else kinds
        return tuple(_value(each, one) for each, one in zip(value, kinds, strict=True))
    elif dataclasses.is_dataclass(kind):
        return _record(value, kind)
    elif type(value) is kind:
        return value
    raise ValueError(f"{value!r} is not {kind}")
