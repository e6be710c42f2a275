"""Advice that waits, since something outside the catches is likely a slip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from predictor.advice.result import Advice
from predictor.slips.finding import Finding


def waiting_for(advice: Advice, found: Sequence[Finding]) -> Advice:
    """The advice with further findings; one that waits keeps a lock back."""
    if not found:
        return advice
    advice = replace(advice, slips=(*found, *advice.slips))
    first = next((each for each in found if each.waits), None)
    if first is None or not (advice.decision in ("lock", "unreachable") or advice.offers_lock):
        return advice
    return replace(advice, decision="recheck", why=first.remark, offers_lock=False, catches_expected_more=None)
