"""A catch that the program makes itself: foretold, or typed and not yet saved."""

from __future__ import annotations

from typing import Any

import numpy as np

from predictor.domain.control import Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.trials import KINDS, Trials


def one_catch(
    drill: Drill | None,
    box: SeedBox,
    *,
    lot: str,
    season: str,
    setting: Setting,
    catch_g: float,
    turns: float,
    rows: float,
    parts_g: tuple[float, ...] | None = None,
    towed: bool = False,
) -> Trials:
    """Trials with one catch, as if it had been made and weighed, standing or towed over what its turns cover."""
    distance = turns * drill.covers_of(box) if towed and drill is not None else np.nan
    values: dict[str, object] = {"box": box.name, "lot": lot, "season": season, "catch_g": catch_g}
    values |= {"setting": setting.text, "opening": setting.opening, "turns": turns, "rows": rows}
    values |= dict.fromkeys(("fill_pct", "target_g", "wanted_g", "tare_g"), np.nan)
    values |= {"charged": True, "use": True, "line": 0, "distance_m": distance}
    columns: dict[str, Any] = {name: np.array([values.get(name, "")], dtype=holds) for name, holds in KINDS.items()}
    return Trials(**columns, rows_g=(None,), parts_g=(parts_g,), drill=drill)
