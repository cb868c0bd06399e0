"""The R.I.R.S. score, for flexible ureteroscopy."""

from __future__ import annotations

from analysis.outcomes.scores.case import Case
from analysis.outcomes.scores.lower_pole_angle import DISPUTED, lower_pole_item
from analysis.outcomes.scores.points import by_cuts, largest_missing, measures_missing
from analysis.outcomes.scores.score import FLEXIBLE, Item, Score

DENSITY_HU, ANGLE_DEG, LENGTH_MM, BURDEN_MM = 1000.0, 30.0, 25.0, (10.0, 20.0)
UNKNOWN = (0.0, 1000.0)


def _items(case: Case) -> tuple[Item, ...]:
    length = case.infundibular_length_mm
    return (
        by_cuts(
            "density",
            case.of_largest(lambda stone: stone.attenuation_hu),
            [DENSITY_HU],
            largest_missing(case, "attenuation_hu"),
        ),
        lower_pole_item("lower pole", case, without=1, points=lambda angle: 2 if angle > ANGLE_DEG else 3),
        by_cuts(
            "infundibular length",
            UNKNOWN if length is None else (length, length),
            [LENGTH_MM],
            ["infundibular length"],
        ),
        by_cuts("burden", case.total(lambda stone: stone.length_mm), BURDEN_MM, measures_missing(case, "length_mm")),
    )


RIRS = Score(
    code="rirs",
    name="R.I.R.S. score",
    version="rirs-1",
    source="Xiao Y et al., BMC Urol 2017;17:105, doi 10.1186/s12894-017-0297-0 (items seen)",
    memory="From memory: the points of each item.",
    meant_for=FLEXIBLE,
    lowest=4,
    highest=10,
    items=_items,
    uses_angle=True,
    conventions=(
        "Density is that of the largest stone, burden the summed longest diameters, infundibular length that of the "
        f"lower pole. {DISPUTED}"
    ),
)
