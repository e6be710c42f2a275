"""The output at which lots are compared: of the reference's own curve, or that which a row wants. All is invented."""

from dataclasses import replace

import numpy as np
import pytest

from predictor.lots.compare import compare_lots
from tests.lots.lot_logs import BOX, log

DEAD = 3


def on_a_line(settings, lots=(1.0, 1.3)):
    """Lots on lines through one dead setting, with next to no scatter."""
    wobble = np.random.default_rng(2).normal(0, 1e-4, (len(lots), len(settings)))
    return log(
        [
            (f"L{k}", x, flow * (x - DEAD) * np.exp(w))
            for k, flow in enumerate(lots)
            for x, w in zip(settings, wobble[k], strict=True)
        ]
    )


@pytest.mark.parametrize("settings", [(10, 12, 14, 50), (10, 46, 48, 50), (20, 30, 40)])
def test_without_a_target_it_is_what_the_reference_gives_where_it_was_caught_mostly(settings):
    found = compare_lots(on_a_line(settings * 2), BOX, reference="L0")
    # as on the line that the lots were made from: a catch of 28 turns and 3 rows
    assert found.reference.output == pytest.approx((found.reference.setting.value - DEAD) / 84, rel=0.02)
    assert found.lot("L1").ratio == pytest.approx(1.3, rel=1e-3)


def test_a_target_on_the_rows_is_over_their_own_turns_and_rows():
    trials = on_a_line((20, 30, 40) * 2)
    wanted = replace(trials, target_g=np.full(len(trials), 24.0))
    found = compare_lots(wanted, BOX, reference="L0")
    assert found.reference.output == pytest.approx(24.0 / (28 * 3))
    assert found.reference.setting.value == DEAD + 24


@pytest.mark.parametrize(("towed", "said"), [("none", False), ("some", True), ("all", False)])
def test_towed_catches_among_standing_ones_are_named_and_towed_ones_alone_are_not(towed, said):
    trials = on_a_line((20, 30, 40) * 2)
    which = {"none": 0, "some": 4, "all": len(trials)}[towed]
    distance = np.where(np.arange(len(trials)) < which, 60.0, np.nan)
    codes = [each.code for each in compare_lots(replace(trials, distance_m=distance), BOX).warnings]
    assert ("lots.towed_and_standing" in codes) == said
