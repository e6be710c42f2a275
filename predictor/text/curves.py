"""A fitted curve in words and figures."""

from __future__ import annotations

from predictor.curves.base import Curve
from predictor.format import count
from predictor.text.fold import fold

KINDS = {
    ("line", None): "A straight line by least squares, without prior knowledge of the box.",
    ("line", "default"): "A line with a dead setting and a slight bend, with ordinary knowledge of a box.",
    ("line", "history"): "A line with a dead setting and a slight bend, with what earlier lots of the box showed.",
    ("spline", None): "A smooth curve that never falls, without prior knowledge of the box.",
    ("spline", "default"): "A smooth curve that never falls, with the ordinary repeatability of a box.",
    ("spline", "history"): "A smooth curve that never falls, with the repeatability of earlier lots of the box.",
}


def lines(curve: Curve) -> list[str]:
    """What was fitted, its parameters, and the output that it expects at three settings."""
    noise = f"{100 * curve.spread:.1f} %" if curve.noise == "proportional" else f"{curve.spread:.3g} g per row per turn"
    fitted = f"Fitted to {count(curve.n, 'catch', 'catches')}. Repeatability: {noise}."
    errors = curve.std_errors
    settings = sorted({curve.low, (curve.low + curve.high) / 2, curve.high})
    limits = [*curve.interval(settings), *curve.interval(settings, of="next")]
    return [
        *fold(f"{KINDS[curve.family, curve.prior]} {fitted}", "").splitlines(),
        "",
        f"{'parameter':<24}{'estimate':>12}{'standard error':>18}",
        *(f"{name:<24}{value:>12.4g}{errors[name]:>18.3g}" for name, value in curve.params.items()),
        "",
        "Output, grams per row per turn, with 95 % limits:",
        f"{'setting':<10}{'mean':>10}{'limits of the mean':>24}{'of the next catch':>24}",
        *(
            f"{x:<10.5g}{mean:>10.4g}{f'{low:.4g} to {high:.4g}':>24}{f'{least:.4g} to {most:.4g}':>24}"
            for x, mean, low, high, least, most in zip(settings, curve.mean(settings), *limits, strict=True)
        ),
    ]
