"""One operation told in a few lines, and what the rules say of it. Day 0 is the operation."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pandas as pd

from analysis.outcomes.infection.answers import Answer
from analysis.outcomes.infection.days import worst_by_day
from analysis.outcomes.infection.judged import InfectionJudged, judge
from analysis.outcomes.infection.rules import InfectionRules

DAY_0 = dt.date(2024, 1, 1)
SHORT = {
    "temp": "temperature_c",
    "heart": "heart_rate_min",
    "breath": "respiratory_rate_min",
    "systolic": "systolic_mmhg",
    "mean": "mean_pressure_mmhg",
    "white": "white_cells_g_l",
    "bands": "bands_percent",
    "lactate": "lactate_mmol_l",
    "platelets": "platelets_g_l",
    "bilirubin": "bilirubin_umol_l",
    "creatinine": "creatinine_umol_l",
    "pf": "pao2_fio2_mmhg",
    "paco2": "paco2_mmhg",
    "coma": "coma_scale",
    "urine": "urine_ml_24h",
    "noradrenaline": "noradrenaline_ug_kg_min",
}
NUMBERS = tuple(SHORT.values())
WELL = {"pf": 450, "platelets": 250, "bilirubin": 10, "mean": 90, "vasopressor": False, "coma": 15, "creatinine": 80}
CALM = {"temp": 36.8, "heart": 72, "breath": 14, "white": 7.0, "systolic": 120, "coma": 15}


def date(day: int) -> pd.Timestamp:
    return pd.Timestamp(DAY_0 + dt.timedelta(days=day))


class Story:
    """Operation 1 of patient 1, reviewed on day 60 unless said."""

    def __init__(self, *, reviewed_to: int | None = 60, died: int | None = None, **operation: Any) -> None:
        self.sets: list[dict[str, Any]] = []
        self.cultures: list[dict[str, Any]] = []
        self.recorded: list[dict[str, Any]] = []
        self.contacts = [] if reviewed_to is None else [reviewed_to]
        self.died = died
        self.operation = {
            "sex": "male",
            "age_years": 50,
            "pregnant": False,
            "chronic_kidney_disease": False,
            **operation,
        }

    def seen(self, day: int, phase: str | None = None, **values: Any) -> Story:
        """A set of observations of that day."""
        told = {SHORT.get(name, name): value for name, value in values.items()}
        when = phase or ("after" if day >= 0 else "before")
        self.sets.append({"set_id": len(self.sets) + 1, "days_after": day, "phase": when, **told})
        return self

    def culture(
        self, day: int, result: str, log10: float | None = None, *, specimen: str = "urine", **more: Any
    ) -> Story:
        own = {"days_after": day, "specimen": specimen, "result": result, "highest_log10": log10, **more}
        phase = "after" if day >= 0 else "before"
        self.cultures.append({"phase": phase, "uncounted": log10 is None, "culture_id": len(self.cultures), **own})
        return self

    def told(self, what: str, low: int | None, high: int | None = None, *, antibiotic: bool = False) -> Story:
        """A recorded complication that began on that day, or between two days."""
        own = {"what": what, "days_low": low, "days_high": low if high is None else high, "antibiotic": antibiotic}
        self.recorded.append(own)
        return self

    def frames(self) -> dict[str, pd.DataFrame]:
        operation = {
            "operation_id": 1,
            "patient_id": 1,
            "study_number": "S1",
            "operated_on": date(0),
            "next_operated_on": pd.NaT,
            "died_low": pd.NaT if self.died is None else date(self.died),
            **self.operation,
        }
        return {
            "operations": pd.DataFrame([operation]).astype(
                {"age_years": "Int64", "pregnant": "boolean", "chronic_kidney_disease": "boolean", "sex": "string"}
                | {"next_operated_on": "datetime64[s]", "died_low": "datetime64[s]", "operated_on": "datetime64[s]"}
            ),
            "observations": self.observations(),
            "cultures": self._frame(
                self.cultures,
                "taken_on",
                {"specimen": "string", "result": "string", "highest_log10": "float64", "uncounted": "boolean"},
            ).astype({"phase": "string"}),
            "recorded": self._frame(
                self.recorded,
                "on_low",
                {"what": "string", "days_low": "Int64", "days_high": "Int64", "antibiotic": "boolean"},
                day="days_low",
            ),
            "contacts": pd.DataFrame(
                {
                    "patient_id": pd.array([1] * len(self.contacts), dtype="int64"),
                    "contacted_on": pd.Series([date(day) for day in self.contacts], dtype="datetime64[s]"),
                    "known_to": pd.Series([date(day) for day in self.contacts], dtype="datetime64[s]"),
                }
            ),
            "dialyses": pd.DataFrame(
                {
                    "operation_id": pd.Series([], dtype="int64"),
                    "given_on": pd.Series([], dtype="datetime64[s]"),
                    "days_low": pd.Series([], dtype="Int64"),
                    "days_high": pd.Series([], dtype="Int64"),
                }
            ),
        }

    def observations(self) -> pd.DataFrame:
        kinds = dict.fromkeys(NUMBERS, "float64") | {"ventilated": "boolean", "vasopressor": "boolean"}
        return self._frame(self.sets, "observed_on", kinds).astype({"phase": "string"})

    def days(self) -> pd.DataFrame:
        """The days after the operation, worst values."""
        days = worst_by_day(self.observations())
        return days[days["phase"] == "after"].reset_index(drop=True)

    def judged(self, days: int = 30, as_of: int = 400, **rules: Any) -> InfectionJudged:
        ids = pd.Index([1], name="operation_id")
        day = DAY_0 + dt.timedelta(days=as_of)
        return judge(self.frames(), InfectionRules(**rules), days=days, as_of=day, operation_ids=ids)

    def says(self, outcome: str, days: int = 30, **rules: Any) -> str:
        """yes, no, or the inputs that lack; `outcome` is how the id begins."""
        found = [one for one in self.judged(days, **rules).outcomes if one.definition.id.startswith(outcome)]
        assert len(found) == 1, [one.definition.id for one in found]
        return spoken(found[0].answer)

    def _frame(
        self, rows: list[dict[str, Any]], on: str, kinds: dict[str, str], *, day: str = "days_after"
    ) -> pd.DataFrame:
        names = list(dict.fromkeys([*(name for row in rows for name in row), *kinds, "days_after", "phase", "set_id"]))
        made = pd.DataFrame(rows, columns=names).astype(kinds)
        dates = [pd.NaT if pd.isna(row[day]) else date(int(row[day])) for row in rows]
        return made.assign(operation_id=1, **{on: pd.Series(dates, dtype="datetime64[s]", index=made.index)})


def spoken(answer: Answer) -> str:
    state = answer.state.iloc[0]
    return str(answer.missing.iloc[0]) if state is pd.NA else "yes" if state else "no"
