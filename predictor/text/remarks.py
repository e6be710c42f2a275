"""The sentence of a remark, found by the first part of its code."""

from __future__ import annotations

from importlib import import_module

from predictor.domain.result import Remark


def sentence(remark: Remark) -> str:
    """What a remark says, in plain words.

    Each module of this room has a table `SENTENCES` from the rest of the code to a text, whose fields in braces are
    filled with the remark's values, or to a function of the remark.
    """
    room, _, code = remark.code.partition(".")
    said = import_module(f"predictor.text.{room}").SENTENCES[code]
    return str(said.format(**remark.values) if isinstance(said, str) else said(remark))
