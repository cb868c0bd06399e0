"""From events to units (operations or patients): the worst grade, whether it is known, and the index."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.outcomes.complications.index import comprehensive_index
from analysis.outcomes.complications.therapy_levels import GRADES

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]


def worst_grades(units: int, unit: IntArray, low: IntArray, high: IntArray) -> tuple[IntArray, IntArray]:
    """The lowest and the highest that each unit's worst grade can be, 0 for no complication; shape (units,) each.

    unit, low, high: of each event the unit's number and the lowest and highest grade number it can have in the window
    (0 when it may lie outside). What is not recorded is no event here: whether a unit was reviewed is another matter.
    """
    lowest, highest = np.zeros(units, dtype=np.int64), np.zeros(units, dtype=np.int64)
    np.maximum.at(lowest, unit, low)
    np.maximum.at(highest, unit, high)
    return lowest, highest


def indices(units: int, unit: IntArray, low: IntArray, high: IntArray) -> FloatArray:
    """The comprehensive index of each unit; NaN when the grade or the window of one of its events is not known.

    A unit with a certain grade V has 100, whatever else is open.
    """
    made = np.zeros(units)
    order = np.argsort(unit, kind="stable")
    numbers, starts = np.unique(unit[order], return_index=True)
    for number, own in zip(numbers, np.split(order, starts[1:]), strict=False):  # without events one empty part is over
        grades = [GRADES[at - 1] for at in low[own] if at]
        undecided = bool((low[own] != high[own]).any())
        made[number] = np.nan if undecided and "V" not in grades else comprehensive_index(grades)
    return made
