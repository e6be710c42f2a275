"""Output against setting: fits a curve to catches, and answers questions about it.

Imports `domain` (arrays, and what all results have in common).
"""

from predictor.curves.base import Curve
from predictor.curves.estimate import SettingEstimate
from predictor.curves.fit import fit_curve
from predictor.curves.prior import Prior

__all__ = ["Curve", "Prior", "SettingEstimate", "fit_curve"]
