"""Lots caught in several seasons: season by season, or as one lot where that is shown. Every lot here is invented."""

import math
import time

import numpy as np
import pytest
from scipy import optimize, stats

from predictor.errors import InputError
from predictor.lots.compare import compare_lots
from tests.lots.lot_logs import BOX, codes, log

# How much seed a turn moves: a slot that opens from lever reading 4 on, 1.6 g a row and turn for each step of it.
CLOSED, STEP_G = 4, 1.6


def caught(lot, settings, season="2026", flow=1.0, cv=0.03, seed=1):
    """Rows of a lot whose seed flows `flow` times as freely as the plain one, with lognormal scatter."""
    scatter = np.random.default_rng([seed, len(settings)]).normal(0, cv, len(settings))
    weights = 28 * 3 * STEP_G * flow * (np.array(settings) - CLOSED) * np.exp(scatter)
    return [(lot, x, weight, season) for x, weight in zip(settings, weights.tolist(), strict=True)]


SIX = (20, 30, 40, 20, 30, 40)
OTHER = caught("J-25", SIX, "2026", seed=9)
CHANGED = [*OTHER, *caught("CW-24", SIX, "2025", seed=2), *caught("CW-24", SIX, "2026", 1.25, seed=3)]
SAME = [*OTHER, *caught("CW-24", SIX * 2, "2025", seed=2), *caught("CW-24", SIX * 2, "2026", seed=3)]


def split(found):
    """Lots that are compared season by season, and those pooled."""
    return [each.lot for each in found.lots_in_seasons if not each.pooled], [
        each.lot for each in found.lots_in_seasons if each.pooled
    ]


def test_a_lot_that_flows_otherwise_in_the_next_season_is_two_lots():
    found = compare_lots(log(CHANGED), BOX)
    assert {row.name: (row.lot, row.season, row.seasons) for row in found.lots} == {
        "J-25": ("J-25", None, ("2026",)),
        "CW-24 (2025)": ("CW-24", "2025", ("2025",)),
        "CW-24 (2026)": ("CW-24", "2026", ("2026",)),
    }
    (seasons,) = found.lots_in_seasons
    assert (seasons.seasons, seasons.pooled, seasons.season, seasons.change.since) == (
        ("2025", "2026"),
        *(False, "2026", "2025"),
    )
    assert seasons.change.lower < 1.25 < seasons.change.upper
    # the later season stands as its own lot with its own flow
    assert found.lot("CW-24 (2026)").ratio / found.lot("CW-24 (2025)").ratio == pytest.approx(seasons.change.ratio)


def test_the_ratio_between_two_seasons_is_that_of_two_samples_of_logs():
    """At one setting the model is two samples of logs with one variance.

    Source: `scipy.stats.ttest_ind` with equal variances, the classical pooled interval of two samples; its middle and
    variance by hand below.
    """
    first, second = caught("CW-24", (30,) * 5, "2025", seed=4), caught("CW-24", (30,) * 7, "2026", 1.25, seed=5)
    (seasons,) = compare_lots(log([*first, *second]), BOX).lots_in_seasons
    earlier, later = (np.log([row[2] for row in rows]) for rows in (first, second))
    interval = stats.ttest_ind(later, earlier, equal_var=True).confidence_interval(0.95)
    change = seasons.change
    assert (change.lower, change.upper) == pytest.approx((math.exp(interval.low), math.exp(interval.high)), rel=1e-9)
    gap = later.mean() - earlier.mean()
    variance = (((earlier - earlier.mean()) ** 2).sum() + ((later - later.mean()) ** 2).sum()) / (5 + 7 - 2)
    half = stats.t.ppf(0.975, 10) * math.sqrt(variance * (1 / 5 + 1 / 7))
    assert (change.ratio, change.upper) == pytest.approx((math.exp(gap), math.exp(gap + half)), rel=1e-9)


def test_a_lot_shown_to_be_the_same_in_two_seasons_is_one_lot_and_that_is_said():
    found = compare_lots(log(SAME), BOX)
    assert split(found) == ([], ["CW-24"])
    assert [(row.name, row.season, row.catches) for row in found.lots] == [("CW-24", None, 24), ("J-25", None, 6)]
    change = found.lots_in_seasons[0].change
    assert 0.90 < change.lower < 1 < change.upper < 1.10
    assert "so all its catches count as one lot" in " ".join(str(found).split())


def test_a_pooled_lot_has_the_figures_of_one_whose_catches_are_all_of_one_season():
    pooled, one = compare_lots(log(SAME), BOX), compare_lots(log([(*row[:3], "2026") for row in SAME]), BOX)
    assert not one.lots_in_seasons
    for name in ("CW-24", "J-25"):
        mine, theirs = pooled.lot(name), one.lot(name)
        assert (mine.ratio, mine.lower, mine.upper) == (theirs.ratio, theirs.lower, theirs.upper)
    assert pooled.spread == one.spread


def test_two_catches_a_season_cannot_show_that_a_lot_is_the_same():
    rows = [*caught("CW-24", (30, 40), "2025", seed=2), *caught("CW-24", (30, 40), "2026", seed=3)]
    found = compare_lots(log(rows), BOX)
    assert split(found) == (["CW-24"], [])
    change = found.lots_in_seasons[0].change
    assert change.lower < 0.90 or change.upper > 1.10
    assert "so each season is compared as a separate lot" in " ".join(str(found).split())


def test_without_a_repeated_catch_no_season_is_pooled():
    found = compare_lots(log([("CW-24", 30, 100.0, "2025"), ("CW-24", 30, 100.0, "2026")]), BOX)
    assert split(found) == (["CW-24"], [])
    assert found.lots_in_seasons[0].change is None
    assert "No limits can be given without repeated catches" in " ".join(str(found).split())


@pytest.mark.parametrize("order", [1, -1])
def test_of_three_seasons_one_that_differs_keeps_all_apart(order):
    flows = {"2024": 1.0, "2025": 1.0, "2026": 1.25}
    rows = [row for k, (season, flow) in enumerate(flows.items()) for row in caught("CW-24", SIX, season, flow, seed=k)]
    found = compare_lots(log(rows[::order]), BOX)
    assert [row.name for row in found.lots] == ["CW-24 (2024)", "CW-24 (2025)", "CW-24 (2026)"]
    (seasons,) = found.lots_in_seasons
    assert (seasons.seasons, seasons.season) == (("2024", "2025", "2026"), "2026")
    assert "the two seasons least alike" in " ".join(str(found).split())


def test_three_seasons_that_are_the_same_are_one_lot():
    rows = [row for k in range(3) for row in caught("CW-24", SIX * 2, str(2024 + k), seed=k)]
    found = compare_lots(log(rows), BOX)
    assert split(found) == ([], ["CW-24"])
    assert [(row.name, row.seasons) for row in found.lots] == [("CW-24", ("2024", "2025", "2026"))]


def test_catches_without_season_go_with_their_lot():
    of_one = [*OTHER, *caught("CW-24", SIX, "2025", seed=2), *caught("CW-24", (30, 30), "", seed=3)]
    found = compare_lots(log(of_one), BOX)
    assert not found.lots_in_seasons
    assert (found.lot("CW-24").catches, found.lot("CW-24").seasons) == (8, ("", "2025"))
    pooled = compare_lots(log([*SAME, *caught("CW-24", (30, 30), "", seed=5)]), BOX)
    assert pooled.lot("CW-24").catches == 26


def test_catches_without_season_of_a_lot_in_two_seasons_are_of_neither():
    found = compare_lots(log([*CHANGED, *caught("CW-24", (30, 30), "", seed=5)]), BOX)
    row = found.lot("CW-24 (no season)")
    assert (row.lot, row.season, row.catches) == ("CW-24", "", 2)
    assert found.lots_in_seasons[0].seasons == ("2025", "2026")


def test_a_season_of_a_lot_never_takes_the_name_of_another_lot():
    taken = [row for name in ("CW-24 (2025)", "CW-24 (season 2025)") for row in caught(name, SIX, "2024", 2.0)]
    found = compare_lots(log([*CHANGED, *taken]), BOX)
    names = [row.name for row in found.lots]
    assert len(set(names)) == len(names) == 5
    assert {"CW-24 (2025)", "CW-24 (season 2025)", "CW-24 (season 2025, 2)", "CW-24 (2026)"} < set(names)
    assert found.lot("CW-24 (2025)").lot == "CW-24 (2025)"
    assert found.lot("CW-24 (season 2025, 2)").season == "2025"


def test_a_lot_as_the_reference_means_its_last_season():
    trials = log(CHANGED)
    for asked, name in (("CW-24", "CW-24 (2026)"), ("CW-24 (2025)", "CW-24 (2025)"), ("J-25", "J-25")):
        assert compare_lots(trials, BOX, reference=asked).reference.name == name
    found = compare_lots(trials, BOX, reference="CW-24")
    assert (found.reference.lot, found.reference.season, found.lot("CW-24").ratio) == ("CW-24", "2026", 1.0)
    assert found.lot("CW-24 (2025)").ratio == pytest.approx(1 / found.lots_in_seasons[0].change.ratio)
    with pytest.raises(InputError, match=r"no lot 'CW-24 \(2024\)'"):
        compare_lots(trials, BOX, reference="CW-24 (2024)")


def test_a_season_of_a_pooled_lot_as_the_reference_means_the_lot():
    assert compare_lots(log(SAME), BOX, reference="CW-24 (2025)").reference.name == "CW-24"


def test_without_a_name_the_reference_is_the_last_of_equally_caught_seasons():
    rows = [*caught("CW-24", SIX, "2025", seed=2), *caught("CW-24", SIX, "2026", 1.25, seed=3)]
    assert compare_lots(log(rows), BOX).reference.name == "CW-24 (2026)"


def test_a_drift_is_still_judged_by_lots_caught_in_two_seasons():
    later = [*caught("K-26", SIX, "2025", seed=5), *caught("K-26", SIX, "2026", 1.25, seed=6)]
    found = compare_lots(log([*CHANGED, *later]), BOX)
    assert split(found) == (["CW-24", "K-26"], [])
    assert found.seasons.drift.linked_lots == 2
    assert found.seasons.table[1].change.lower < 1.25 < found.seasons.table[1].change.upper
    assert [row.lots for row in found.seasons.table] == [2, 3]


def test_a_lot_in_two_seasons_counts_once_among_lots():
    """The spread is that of a log without the season that was caught less."""
    at_30 = [row for k in range(5) for row in caught(f"L{k}", (30,) * 4, "2026", 1 + 0.1 * k, seed=k)]
    much, few = caught("CW-24", (30,) * 6, "2025", seed=7), caught("CW-24", (30,) * 3, "2026", 1.25, seed=8)
    both, once = (compare_lots(log(rows), BOX) for rows in ([*at_30, *much, *few], [*at_30, *much]))
    assert (both.spread.lots, both.spread.several, once.spread.several) == (6, 1, 0)
    figures = [
        (each.cv, each.cv_lower, each.cv_upper, each.next_lower, each.next_upper) for each in (both.spread, once.spread)
    ]
    assert figures[0] == pytest.approx(figures[1], rel=1e-9)
    assert both.lot("CW-24 (2025)").against_average == pytest.approx(once.lot("CW-24").against_average)
    assert both.lot("CW-24 (2026)").against_average is None
    assert "counts once here" in " ".join(str(both).split())


def test_one_lot_in_two_seasons_says_nothing_about_lots_in_general():
    rows = [*caught("CW-24", SIX, "2025", seed=2), *caught("CW-24", SIX, "2026", 1.25, seed=3)]
    assert compare_lots(log(rows), BOX).spread is None


@pytest.mark.parametrize(("cross", "end"), [(20, 40), (40, 20)])
def test_seasons_whose_curves_differ_in_shape_are_not_pooled_for_being_alike_at_one_setting(cross, end):
    """Dead settings 4 and 14, equal output at one end of what was caught: the other end tells them apart.

    Limits by hand: a curve fitted to the logs of each season by `scipy.optimize.curve_fit`, with the two seasons'
    residuals pooled, and the delta method at the setting named.
    """
    swing = (cross - CLOSED) / (cross - 14)
    early = caught("CW-24", SIX * 4, "2025", seed=2)
    late = [
        ("CW-24", row[1], row[2] * swing * (row[1] - 14) / (row[1] - CLOSED), "2026") for row in caught("", SIX * 4)
    ]
    found = compare_lots(log([*early, *late]), BOX)
    assert found.shape.same is False
    assert split(found) == (["CW-24"], [])
    seasons = found.lots_in_seasons[0]
    assert seasons.at_setting.value == end
    assert f"at setting {end}" in " ".join(str(found).split())
    # the made-up curves' own ratio there
    assert seasons.change.lower < swing * (end - 14) / (end - CLOSED) < seasons.change.upper

    def height(x, level, dead):
        return level + np.log(x - dead)

    heights, variances, squares = [], [], 0.0
    for rows in (early, late):
        x, y = np.array([row[1] for row in rows], float), np.log([row[2] for row in rows])
        best, cov = optimize.curve_fit(
            height, x, y, (4.0, 8.0), np.ones(len(x)), absolute_sigma=True, bounds=((0, -50), (9, 19.9)), xtol=1e-12
        )
        slope = np.array([1.0, -1 / (end - best[1])])
        heights.append(height(end, *best))
        variances.append(slope @ cov @ slope)
        squares += float(((y - height(x, *best)) ** 2).sum())
    df = 2 * 24 - 4
    half = stats.t.ppf(0.975, df) * math.sqrt(squares / df * sum(variances))
    gap = heights[1] - heights[0]
    by_hand = [math.exp(each) for each in (gap, gap - half, gap + half)]
    assert [seasons.change.ratio, seasons.change.lower, seasons.change.upper] == pytest.approx(by_hand, rel=1e-4)


def test_chain_positions_without_order_are_split_too():
    rows = [(lot, "low", weight, season) for lot, _, weight, season in CHANGED if _ == 30]
    rows += [(lot, "low", weight * 1.01, season) for lot, _, weight, season in rows]
    found = compare_lots(log(rows), "small")
    assert "one_label" in codes(found.warnings)
    assert [row.name for row in found.lots] == ["CW-24 (2025)", "CW-24 (2026)", "J-25"]


def test_many_lots_in_two_seasons_are_told_in_a_few_lines():
    rows = [
        row
        for k in range(20)
        for season, flow in (("2025", 1.0), ("2026", 1.25))
        for row in caught(f"L{k:02}", (20, 30, 40), season, flow, seed=10 * k + int(season))
    ]
    text = " ".join(str(compare_lots(log(rows), BOX)).split())
    assert "8 more lots caught in several seasons: compared 0 as one lot each, 8 season by season." in text
    assert "Each of the 20 lots that are compared season by season counts once here" in text


@pytest.mark.slow
def test_five_thousand_lots_in_two_seasons_are_compared_in_seconds():
    rng = np.random.default_rng(1)
    rows = [
        (f"L{k}", x, 50.0 * (x - CLOSED) * math.exp(rng.normal(0, 0.05)), season)
        for k in range(5000)
        for season in ("2025", "2026")
        for x in (20, 30, 40)
    ]
    trials = log(rows)
    start = time.process_time()
    found = compare_lots(trials, BOX)
    assert time.process_time() - start < 20  # one pass of fits takes about a second; the square of the lots, minutes
    assert len(found.lots_in_seasons) == 5000


def share_pooled(flow, cv, each, df):
    """Share of lots that two one-sided tests find alike, with `each` catches a season and `df` degrees of freedom.

    By quadrature over the scatter found s (a chi) and the normal ratio. Source: Schuirmann (1987), J. Pharmacokinet.
    Biopharm. 15, 657-680 (from memory).
    """
    s = cv * np.sqrt(stats.chi2.ppf((np.arange(4000) + 0.5) / 4000, df) / df)
    error, half = cv * math.sqrt(2 / each), stats.t.ppf(0.975, df) * s * math.sqrt(2 / each)
    low, high = math.log(0.90) + half, math.log(1.10) - half
    inside = stats.norm.cdf((high - math.log(flow)) / error) - stats.norm.cdf((low - math.log(flow)) / error)
    return float(np.where(high > low, inside, 0.0).mean())


@pytest.mark.slow
@pytest.mark.parametrize("flow", [1.0, 1.10, 1.15])
@pytest.mark.parametrize(("settings", "df", "shapes"), [((30,) * 6, 10, 0.0), (SIX, 9, 0.05)], ids=["one", "three"])
def test_six_catches_a_season_tell_a_changed_lot_from_one_that_is_the_same(flow, settings, df, shapes):
    """Simulated shares of pooled lots, of 2,000 each (Monte Carlo standard error 0.3 to 0.4 points at 2 to 4 %).

    At one setting the share is that of the two one-sided tests. At three settings the test for one curve shape keeps
    up to 5 in 100 more of the same lots apart. A lot changed by 10 % is pooled at most 2.5 times in 100.
    """
    runs, alike = 2000, 0
    for run in range(runs):
        early, late = (
            caught("CW-24", settings, "2025", seed=2 * run),
            caught("CW-24", settings, "2026", flow, 0.03, 2 * run + 1),
        )
        alike += compare_lots(log([*early, *late]), BOX).lots_in_seasons[0].pooled
    share, expected = alike / runs, share_pooled(flow, 0.03, 6, df)
    error = math.sqrt(max(expected * (1 - expected), 1 / runs) / runs)
    print(
        f"flow x {flow} at {settings}: pooled {100 * share:.2f} %, expected {100 * expected:.2f} +- {100 * error:.2f}"
    )
    assert expected - shapes - 3 * error <= share <= expected + 3 * error
    assert flow < 1.10 or share <= 0.025 + 3 * error


def test_seasons_whose_names_would_read_alike_keep_names_of_their_own():
    rows = [
        *caught("A", SIX, "east) (2025", seed=2),
        *caught("A", SIX, "2026", 1.6, seed=3),
        *caught("A (east)", SIX, "2025", 1.3, seed=4),
        *caught("A (east)", SIX, "2026", 2.1, seed=5),
    ]
    names = [row.name for row in compare_lots(log(rows), BOX).lots]
    assert len(names) == len(set(names)) == 4
