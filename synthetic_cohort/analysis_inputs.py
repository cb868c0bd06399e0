"""A cohort as the frames that stone-free status is worked out from, without a workbook in between."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from synthetic_cohort.frames import CONDUCT, KINDS, NEVER, Cohort
from synthetic_cohort.imaging import FINDINGS, MODALITIES

LUCENT_BELOW_HU = 450


def analysis_inputs(cohort: Cohort) -> dict[str, Any]:
    """Frames sides, treatments, examinations, fragments, stones, aims, losses and deaths, and the date as_of.

    Keys are row numbers of the cohort's tables, from 0. The sides also have the columns that analysis groups and
    adjusts by, and ``residual_mm``, the truth.
    """
    patients, sides, operations = cohort.patients, cohort.sides, cohort.operations
    operation = sides["operation"]
    unit = sides["patient"] * 2 + sides["left"]
    on = operations["on"][operation].astype("datetime64[s]")
    removal = operations["removal"][operation]
    numbers = np.arange(len(unit))
    course = np.where(sides["course"] > 0, unit * 10 + sides["course"], np.nan)
    day_number = _day_numbers(operations["patient"], operations["on"])[operation]
    side_frame = pd.DataFrame(
        {
            "side_id": numbers,
            "operation_id": operation,
            "patient_id": sides["patient"],
            "renal_unit_id": unit,
            "course_id": course,
            "stage": np.where(sides["stage"] >= 0, sides["stage"], np.nan),
            "operated_on": on,
            "day_number": day_number,
            "intent": np.where(removal, "stone_removal", "drainage"),
            "conduct": np.array(CONDUCT)[sides["conduct"]],
            "access_failed": np.zeros(len(unit), dtype=bool),
            "in_cohort": np.ones(len(unit), dtype=bool),
            **{n: sides[n] for n in _CARRIED},
            "culture_positive": operations["culture_positive"][operation],
            "infection": operations["infection"][operation],
        }
    )
    treated = sides["intended"]
    stones = _stones(sides, course)
    died = patients["died_on"] < NEVER
    examinations = _examinations(cohort, unit)
    last = max(on.max(), examinations["on_high"].max()) if len(examinations) else on.max()
    last = max(last, operations["review_on"][operations["reviewed"]].max(initial=last).astype("datetime64[s]"))
    return {
        "sides": side_frame,
        "treatments": pd.DataFrame(
            {
                "treatment_id": numbers,
                "patient_id": sides["patient"],
                "renal_unit_id": unit,
                "side_id": numbers,
                "on_low": on,
                "on_high": on,
                "day_number": day_number,
                "kind": np.array(KINDS)[sides["kind"]],
                "course_id": course,
            }
        )[treated],
        "examinations": examinations,
        "fragments": _fragments(cohort),
        "stones": stones,
        "aims": pd.DataFrame(
            {
                "stone_id": stones["stone_id"],
                "side_id": stones["side_id"],
                "aimed": "aimed_at",
                "left_recorded_before_access": None,
            }
        ),
        "losses": pd.DataFrame({"renal_unit_id": np.zeros(0, int), "on_low": on[:0], "on_high": on[:0]}),
        "deaths": pd.DataFrame(
            {
                "patient_id": np.flatnonzero(died),
                "on_low": patients["died_on"][died].astype("datetime64[s]"),
                "on_high": patients["died_on"][died].astype("datetime64[s]"),
            }
        ),
        "as_of": date.fromisoformat(str(np.datetime64(last, "D"))),
    }


_CARRIED = (
    "technique",
    "operator",
    "year",
    "age",
    "female",
    "burden_mm",
    "largest_mm",
    "density_hu",
    "lower_pole",
    "pre_stented",
    "sheath",
    "scope",
    "ratio",
    "suction",
    "residual_mm",
)


def _day_numbers(patient: NDArray[np.int64], on: NDArray[Any]) -> NDArray[np.int64]:
    """1 for the first operation of a patient's day, 2 for the next."""
    earlier = pd.DataFrame({"patient": patient, "on": on}).groupby(["patient", "on"]).cumcount()
    numbers: NDArray[np.int64] = np.asarray(earlier, dtype=np.int64) + 1
    return numbers


def _stones(sides: dict[str, NDArray[Any]], course: NDArray[np.float64]) -> pd.DataFrame:
    # A stage or an auxiliary treatment aims at the stones that its course already has.
    begins = (sides["course"] > 0) & (sides["stage"] == 0)
    count = np.where(begins, sides["stones"], 0)
    side = np.repeat(np.arange(len(count)), count)
    return pd.DataFrame(
        {
            "stone_id": np.arange(len(side)),
            "course_id": course[side].astype(np.int64),
            "renal_unit_id": (sides["patient"] * 2 + sides["left"])[side],
            "radiolucent": sides["density_hu"][side] < LUCENT_BELOW_HU,
            "side_id": side,
        }
    )


def _examinations(cohort: Cohort, unit: NDArray[np.int64]) -> pd.DataFrame:
    readings, examined = _all_readings(cohort), cohort.examinations
    examination, side = readings["examination"], readings["side"]
    on = examined["on"][examination].astype("datetime64[s]")
    modality = np.array(MODALITIES)[examined["modality"][examination]]
    return pd.DataFrame(
        {
            "examination_id": examination,
            "reading_id": np.arange(len(examination)),
            "patient_id": cohort.sides["patient"][side],
            "renal_unit_id": unit[side],
            "on_low": on,
            "on_high": on,
            "after_operation": None,
            "modality": modality,
            "slice_mm": examined["slice_mm"][examination],
            "every_calyx_seen": pd.Series(modality == "second_look", dtype=object).where(
                modality == "second_look", None
            ),
            "finding": np.array(FINDINGS)[readings["finding"]],
        }
    )


def _all_readings(cohort: Cohort) -> dict[str, NDArray[Any]]:
    """The first readers' readings, then the second readers'."""
    first, second = cohort.readings, cohort.second_readings
    again = {name: first[name][second["reading"]] for name in ("examination", "side")}
    again |= {name: second[name] for name in ("finding", "seen_mm")}
    return {name: np.concatenate([first[name], values]) for name, values in again.items()}


def _fragments(cohort: Cohort) -> pd.DataFrame:
    readings = _all_readings(cohort)
    reading = np.flatnonzero(readings["seen_mm"] > 0)
    size = readings["seen_mm"][reading]
    return pd.DataFrame(
        {
            "reading_id": reading,
            "low_mm": size,
            "high_mm": size,
            "above": False,
            "kind": "single",
            "source": "not_said",
            "stone_id": np.nan,
        }
    )
