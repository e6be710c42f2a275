"""The words of an audit: every sentence, and a whole one of figures that are made up and on no edge of rounding."""

import math

import numpy as np
import pytest

from predictor.audit.results import (
    Audit,
    BoxAudit,
    Check,
    Figure,
    Line,
    LotAudit,
    Opinion,
    Residuals,
    View,
)
from predictor.domain.result import Remark
from predictor.text import audit as words
from predictor.text.audit_lines import audit_lines
from tests import golden

VALUES = {
    "scale": "setting",
    "setting": "14",
    "ours": 3e-15,
    "theirs": 2e-10,
    "digits": 9,
    "worst": 4,
    "lots": 3,
    "catches": 2,
    "settings": 2,
    "least": 5,
    "known": 1,
    "most": 2000,
    "carried": 14,
    "gap": 4e-8,
    "none": True,
}
FIGURES = {
    "intercept": (-0.0264, 1e-14),
    "intercept_se": (0.0224, 1e-13),
    "slope": (0.01908, 1e-12),
    "slope_se": (0.00132, 1e-11),
    "spread": (0.013, 1e-10),
    "setting": (16.3, 1e-9),
    "setting_lower": (15.4, 1e-8),
    "setting_upper": (math.inf, 0.0),
}


def opinion(method, why, off=3.0):
    figures = tuple(Figure(name, value, value * (1 + off * share)) for name, (value, share) in FIGURES.items())
    return Opinion(method, figures, 3e-15, 2e-10, why)


def made():
    checks = (
        Check("setting", 12, 1.52, 4, 6, 0.304, method="lack-of-fit"),
        Check("order", 12, 9.31, 1, 9, 0.0138, 0.0213, "added"),
        Check("filling", 12, 4.11, 1, 9, 0.0731, -0.124, "added"),
        Check("season", 12, reason=Remark("audit.one_season")),
        Check("noise", 12, 14.2, 1, None, 0.0004, method="breusch-pagan"),
    )
    views = (
        View("history", 16.2, 15.7, 16.8, ("16.2", "15.7", "16.8"), "16", 0.973, 4.23),
        View("default", 16.1, 15.3, 16.9, ("16.1", "15.3", "16.9"), "16", 0.931, -1.1),
        View("classical", 16.3, 15.4, math.inf, ("16.3", "15.4", "no limit"), "16.5", 0.744),
    )
    line = Line(-0.0264, 0.01908, 0.0224, 0.00132, 0.013, 10, 16.3, 15.4, math.inf, "one-sided")
    opinions = (
        opinion("wls", Remark("audit.exact", {"ours": 14, "theirs": 12})),
        opinion("gamma", Remark("audit.gamma_stops", VALUES), 300.0),
    )
    seen = Residuals(*(np.linspace(*ends, 12) for ends in ((10, 20), (0, 11), (20, 90), (-1.4, 2.3), (0.2, 0.4))))
    readings = ("16.3", "15.4", "no limit", "16.3")
    whole = LotAudit(
        *("small", "A-26", "2026", 12, (7, 9), 0.285, "plan", line, "setting", readings),
        *(opinions, checks, views, (), seen),
    )
    few = LotAudit("small", "B-26", "2026", 2, (), remarks=(Remark("audit.few_catches", {"catches": 2}),))
    ratios = tuple(Figure("ratio", 1 + k / 10, 1 + k / 10 + 3e-12, of=f"L{k}") for k in range(9))
    box = BoxAudit(
        *("small", 10, 40, 231),
        opinions=(
            Opinion("ols", (*ratios, Figure("bend", 0.05, 0.05)), 2e-15, 3e-15, Remark("audit.levels", VALUES)),
            Opinion("mixed", (Figure("between", 0.0211, 0.0212),), 3e-15, 2e-5, Remark("audit.mixed_higher", VALUES)),
        ),
        season=Check("seasons", 231, 21.4, 1, 5, 0.0057, method="one-way"),
        remarks=(Remark("audit.own_shapes"),),
        by_season=(("2025", np.array([-0.5, 0.1])), ("2026", np.array([0.3, 0.4]))),
    )
    return Audit((whole, few), (box,), 31)


@pytest.mark.parametrize("code", words.SENTENCES)
def test_every_sentence_can_be_said(code):
    said = str(Remark(f"audit.{code}", VALUES))
    assert said
    assert "{" not in said
    assert said.startswith("not tested") or said.endswith(".")


@pytest.mark.parametrize("width", [60, 100])
def test_wording(width):
    parts = ["\n".join(audit_lines(made(), width, details=details)) for details in (False, True)]
    golden.check(f"audit-{width}", "\n\n".join(parts))


def test_pictures_are_told_in_words():
    audit = made()
    golden.check("audit-pictures", f"{words.pictured(audit.lots)}\n\n{words.seasons_pictured(audit.boxes[0])}")


def test_no_test_is_counted_twice_and_none_that_was_not_made():
    audit = made()
    assert (audit.checks, audit.doubtful) == (5, 3)
    assert words.look_at(audit.lots[0]) == "order of catches (p = 0.014), one repeatability (p < 0.001)"
    assert "5 tests" in words.by_chance(audit)
    assert "23 %" in words.by_chance(audit)  # 1 - 0.95^5


def test_a_figure_near_nothing_does_not_make_the_opinions_differ():
    found = Opinion(
        "wls", (Figure("intercept", 1e-16, 3e-16, tiny=1e-13), Figure("slope", 2.0, 2.0)), 0, 0, Remark("x")
    )
    assert found.figures[0].digits < 1
    assert found.digits == 15


def test_plain_values_have_no_number_that_json_lacks():
    values = made().to_dict()
    assert values["results"][0]["line"]["setting_upper"] is None
    assert values["results"][0]["opinions"][0]["figures"][0]["digits"] == pytest.approx(13.5, abs=0.1)
    assert "residuals" not in values["results"][0]
    assert "by_season" not in values["boxes"][0]
