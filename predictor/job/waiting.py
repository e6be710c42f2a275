"""Advice that waits, since something outside the catches is likely a slip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from predictor.advice.decision import ending
from predictor.advice.result import Advice
from predictor.slips.finding import Finding


def waiting_for(advice: Advice, found: Sequence[Finding]) -> Advice:
    """The advice with further findings; one that waits keeps a lock back."""
    if not found:
        return advice
    advice = replace(advice, slips=(*found, *advice.slips))
    first, ends = next((each for each in found if each.waits), None), ending(advice.decision, advice.offers_lock)
    if first is None or ends is None:
        return advice
    held = replace(advice, decision="recheck", why=first.remark, otherwise=ends)
    return replace(held, offers_lock=False, catches_expected_more=None)
