"""What an audit shows agrees with published figures, ours and the other library's. The data are in `published/data`.

"Read" means that the printed value was read, in the document itself or in a stored copy. Where R computed an answer,
its version was not recorded.
"""

import math
from fractions import Fraction

import numpy as np
import pytest

from predictor.audit.exact import exact_line
from predictor.audit.likelihood import Restricted
from predictor.audit.lines import Data, gamma_model, least_squares, opinions, our_line
from predictor.audit.lots import mixed_opinion
from predictor.audit.results import digits_of
from tests.published.test_curves_published import DATA, columns

ORDER = ("intercept", "intercept_se", "slope", "slope_se", "spread")


def data(name, target, power=0, x="x", y="y"):
    settings, outputs = columns(name, x, y)
    return Data(settings, outputs, settings**-power, target)


def both_have(opinion, certified, least):
    """Ours and theirs each have the certified figures to so many digits."""
    for name, value in certified.items():
        found = opinion.figure(name)
        assert digits_of(found.ours, value) >= least, (name, found)
        assert digits_of(found.theirs, value) >= least, (name, found)


def test_norris_is_certified_to_eleven_digits_on_both_sides():
    """NIST StRD, linear regression, Norris (read). The values are certified to 15 digits."""
    norris = data("strd_norris", 500.0)
    certified = [-0.262323073774029, 0.232818234301152, 1.00211681802045, 0.429796848199937e-03, 0.884796396144373]
    found = least_squares(norris, our_line(norris, "constant"))
    both_have(found, dict(zip(ORDER, certified, strict=True)), 11)
    for name, value in zip(ORDER, certified, strict=True):
        # these doubles are the decimals of the data set but for their sixteenth digit
        assert digits_of(found.figure(name).exact, value) >= 12.5


@pytest.mark.parametrize(
    ("power", "figures"),
    [
        (0, [-1.61441275347968, 183.646278874374, 1.54598923158585, 0.0293849463961765, 779.496927239418]),
        (1, [12.5542349987856, 7.48017441654945, 1.5414488714781, 0.0284900647938467, 7.76918564454062]),
        (2, [13.6542643427723, 1.39282879825061, 1.49165157108925, 0.126160285507848, 0.535332172350752]),
    ],
)
def test_weighted_lines_of_toluene(power, figures):
    """Rocke and Lorenzato (1995), Technometrics 37, 176, table 4; R lm with weights x^-power (version not recorded)."""
    toluene = data("cv_toluene", 200.0, power)
    both_have(least_squares(toluene, our_line(toluene, "constant")), dict(zip(ORDER, figures, strict=True)), 10)


def test_limits_of_a_setting_by_weighted_least_squares():
    """The same with weights 1/x: the band of the mean put in reverse by root finding in R (version not recorded)."""
    toluene = data("cv_toluene", 200.0, 1)
    certified = {"setting": 121.603621417214, "setting_lower": 111.012028066753, "setting_upper": 132.488063559463}
    both_have(least_squares(toluene, our_line(toluene, "constant")), certified, 8)


@pytest.mark.parametrize(
    ("target", "figures"),
    [
        (8.0, [15.8881952326901, 14.6589587043499, 17.1596321188673]),
        (5.0, [9.92905788876277, 8.33565332183002, 11.2815294222942]),
    ],
)
def test_fieller_limits_of_the_crystal_data(target, figures):
    """Graybill and Iyer (1994), crystal growth. Printed for 8 in the R Journal paper on investr: 15.8882, 14.659 and
    17.1596 (read in a stored text); further digits, and those for 5, by R (version not recorded)."""
    crystal = data("inv_crystal", target)
    names = ("setting", "setting_lower", "setting_upper")
    both_have(least_squares(crystal, our_line(crystal, "constant")), dict(zip(names, figures, strict=True)), 10)


def test_gamma_model_of_toluene():
    """R glm, Gamma with identity link and Pearson's dispersion (version not recorded), which stops at eight digits."""
    toluene = data("cv_toluene", 200.0)
    by_r = [12.9643270528411, 1.55319682364123, 1.51358645336628, 0.0606619922363601, 0.159764311228323]
    found = gamma_model(toluene, our_line(toluene))
    both_have(found, dict(zip(ORDER, by_r, strict=True)), 8)
    # the fixed point of weights 1/mean^2, run to its end by R too
    end = {"intercept": 12.9643270419722, "slope": 1.51358645362271, "spread": 0.159764310537072}
    both_have(found, end, 10)


def test_it_is_computed_whose_gamma_model_is_nearer():
    """A Newton step from our answer leads nowhere, and from statsmodels' as far as the two answers differ."""
    toluene = data("cv_toluene", 200.0)
    curve = our_line(toluene)
    found = gamma_model(toluene, curve)
    assert found.far_ours < 1e-12 < found.far_theirs
    assert found.why.code == "audit.gamma_stops"
    assert found.why["carried"] >= 13
    gap = abs(found.figure("intercept").ours - found.figure("intercept").theirs)
    assert found.far_theirs == pytest.approx(gap / found.figure("intercept_se").ours, rel=0.3)


def test_longer_catches_count_for_more_in_both():
    """A catch four times as long is as good as four: both answers stay those of each other."""
    toluene = data("cv_toluene", 200.0)
    lengths = np.where(np.arange(len(toluene.x)) % 3, 1.0, 4.0)
    longer = Data(toluene.x, toluene.y, lengths, 200.0)
    curve = our_line(longer)
    assert gamma_model(longer, curve).digits >= 6
    assert digits_of(curve.params["slope"], our_line(toluene).params["slope"]) < 3


def test_a_wrong_line_of_ours_is_told():
    """A slope that is off by a millionth: statsmodels is nearer, and exact arithmetic gives ours six digits."""
    from dataclasses import replace

    toluene = data("cv_toluene", 200.0)
    curve = our_line(toluene)
    off = replace(curve, slope=curve.slope * (1 + 1e-6))
    (least, gamma), remarks = opinions(toluene, off)
    assert not remarks
    assert least.why["ours"] <= 6 < 10 < least.why["theirs"]
    assert gamma.why.code == "audit.gamma_nearer"
    assert gamma.far_ours > 1e-7


def test_exact_arithmetic_on_a_line_that_can_be_worked_out_by_hand():
    """x = 0, 1, 2 and y = 1, 2, 4: slope 3/2, intercept 5/6, residuals 1/6, -1/3, 1/6, so variance 1/6."""
    found = exact_line(np.array([0.0, 1.0, 2.0]), np.array([1.0, 2.0, 4.0]), np.ones(3))
    assert (found.slope, found.intercept, found.variance) == (Fraction(3, 2), Fraction(5, 6), Fraction(1, 6))
    assert (found.v11, found.v01, found.v00) == (Fraction(1, 12), Fraction(-1, 12), Fraction(5, 36))
    assert found.values(2.0, 0.0)["setting"] == 7 / 9


def lots(name, label, value):
    rows = [row.split(",") for row in (DATA / f"{name}.csv").read_text(encoding="utf-8").splitlines()]
    column = rows[0].index(f'"{label}"'), rows[0].index(f'"{value}"')
    _, code = np.unique([row[column[0]] for row in rows[1:]], return_inverse=True)
    return np.array([float(row[column[1]]) for row in rows[1:]]), code


@pytest.mark.parametrize(
    ("name", "label", "value", "figures"),
    [
        # Davies and Goldsmith (1972), 6.4: MSB 11271.5, MSW 2451.25, five catches of each of six lots. lme4 prints
        # the criterion 319.6543 (read in a stored output).
        ("mm_dyestuff", "Batch", "Yield", (1527.5, (11271.5 - 2451.25) / 5, 2451.25, 319.6543)),
        # Pinheiro and Bates (2000), 1.1: sd 24.80547 and 4.020779, log likelihood -61.0885 (read in a stored text);
        # MSA 1862.1, MSE 97/6, three catches of each of six lots.
        ("mm_rail", "Rail", "travel", (66.5, (1862.1 - 97 / 6) / 3, 97 / 6, 122.177)),
    ],
)
def test_variances_of_lots_are_those_of_the_balanced_tables(name, label, value, figures):
    """Balanced lots have a closed form: ours reaches it, and the mixed model of statsmodels stops at fewer digits."""
    found, remarks = mixed_opinion(*lots(name, label, value))
    assert not remarks
    mean, between, within, criterion = figures
    assert digits_of(found.figure("mean").ours, mean) >= 12
    assert digits_of(found.figure("between").ours, between) >= 10
    assert digits_of(found.figure("within").ours, within) >= 12
    assert 3 <= digits_of(found.figure("between").theirs, between)
    for each in (found.figure("criterion").ours, found.figure("criterion").theirs):
        assert each == pytest.approx(criterion, abs=6e-5)
    assert found.far_ours < 1e-9 < found.far_theirs
    assert found.figure("criterion").ours <= found.figure("criterion").theirs + 1e-9


def test_no_variance_between_lots_is_said():
    """Box and Tiao (1973), dyestuff2: the variance between lots is nothing, within 13.8063 (lme4, read)."""
    found, _ = mixed_opinion(*lots("mm_dyestuff2", "Batch", "Yield"))
    assert found.figure("between").ours == 0.0
    assert found.figure("within").ours == pytest.approx(13.8063, abs=5e-5)
    assert found.why["none"]
    assert found.far_ours < 1e-9


def test_the_restricted_likelihood_is_that_of_the_whole_matrix():
    """Reference: numpy, with the covariance matrix of all catches; derivatives by differences."""
    rng = np.random.default_rng(3)
    lot = np.repeat(np.arange(5), [1, 2, 4, 3, 6])
    y = 2.0 + rng.normal(size=5)[lot] + rng.normal(size=len(lot))
    found, ones = Restricted.of(y, lot), np.ones(len(y))

    def whole(between, within):
        v = within * np.eye(len(y)) + between * (lot[:, None] == lot)
        inner = np.linalg.inv(v)
        off = y - (ones @ inner @ y) / (ones @ inner @ ones)
        dets = np.linalg.slogdet(v)[1] + math.log(ones @ inner @ ones)
        return dets + off @ inner @ off + (len(y) - 1) * math.log(2 * math.pi)

    assert found.criterion(0.7, 1.3) == pytest.approx(whole(0.7, 1.3), rel=1e-12)
    score, _ = found._score(0.7, 1.3)
    step = 1e-6
    slopes = [(whole(0.7 + step, 1.3) - whole(0.7 - step, 1.3)), (whole(0.7, 1.3 + step) - whole(0.7, 1.3 - step))]
    assert score == pytest.approx(-0.5 * np.array(slopes) / (2 * step), rel=1e-6)


@pytest.mark.parametrize(
    ("value", "right", "digits"),
    [(1.001, 1.0, 3), (2.0, 2.0, 15), (0.001, 0.0, 3), (math.inf, 1.0, 0), (math.inf, math.inf, 15), (30.0, 1.0, 0)],
)
def test_digits_are_the_log_relative_error(value, right, digits):
    """McCullough (1998), Am. Stat. 52, 358-366 (pages from memory)."""
    assert digits_of(value, right) == pytest.approx(digits, abs=1e-9)
