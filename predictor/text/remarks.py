"""The sentence of a remark, found by the first part of its code."""

from __future__ import annotations

from importlib import import_module

from predictor.domain.result import Remark
from predictor.errors import UnknownName


def sentence(remark: Remark) -> str:
    """What a remark says, in plain words.

    Each module of this room has a table `SENTENCES` from the rest of the code to a text, whose fields in braces are
    filled with the remark's values, or to a function of the remark.
    """
    room, _, code = remark.code.partition(".")
    try:
        said = import_module(f"predictor.text.{room}").SENTENCES[code]
    except (ImportError, AttributeError, KeyError, TypeError):
        raise UnknownName(f"There is no sentence for the code {remark.code!r:.60}.") from None
    try:
        return str(said.format(**remark.values) if isinstance(said, str) else said(remark))
    except KeyError as missing:
        raise UnknownName(f"The sentence of {remark.code} needs the value {missing}.") from None
