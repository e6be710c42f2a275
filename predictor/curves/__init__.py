"""Output against setting: fitting a curve and asking it questions.

Imports nothing but the modules at the top.
"""

from predictor.curves.base import Curve, SettingEstimate
from predictor.curves.fit import fit_curve

__all__ = ["Curve", "SettingEstimate", "fit_curve"]
