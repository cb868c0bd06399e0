"""Every infectious outcome of each operation within one window, with the components it was worked out from."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from analysis.outcomes.infection import rules as of
from analysis.outcomes.infection.answers import Answer, number
from analysis.outcomes.infection.cultures import any_growth, culture_answer
from analysis.outcomes.infection.days import contradictions, worst_by_day
from analysis.outcomes.infection.folding import folded
from analysis.outcomes.infection.recorded import recorded, reviewed
from analysis.outcomes.infection.rules import InfectionRules
from analysis.outcomes.infection.sepsis import baseline, risen, shocked
from analysis.outcomes.infection.sirs import QSOFA, SIRS, qsofa, sirs
from analysis.outcomes.infection.sofa import sofa
from analysis.outcomes.published import Published

NO_TEMPERATURE, NO_OBSERVATION = "temperature", "any observation after the operation"


@dataclass(frozen=True, eq=False)
class InfectionOutcome:
    """One outcome.

    kind: recorded by somebody, or computed. of_reviewed: it hangs on what was recorded, so that its rate is among the
    reviewed operations; a yes that is known without review enters counts and bounds alone. answer: one an operation.
    """

    definition: Published
    kind: str
    of_reviewed: bool
    answer: Answer


@dataclass(frozen=True, eq=False)
class InfectionJudged:
    """The outcomes of a window of days, and what they were made from.

    operations: operation_id as index; due says whether the window had passed by the as-of day. days: one row an
    operation and day after it, worst values, with the scores of that day. base: SOFA before the operation.
    contradictions: sets of observations that cannot be, one by one.
    """

    window_days: int
    operations: pd.DataFrame
    outcomes: tuple[InfectionOutcome, ...]
    days: pd.DataFrame
    base: pd.DataFrame
    contradictions: pd.DataFrame


def judge(
    frames: Mapping[str, pd.DataFrame], rules: InfectionRules, *, days: int, as_of: dt.date, operation_ids: pd.Index
) -> InfectionJudged:
    """Every outcome of the operations asked about, days 0 to `days` after each, nothing dated after as_of read.

    frames: operations, observations, cultures, recorded and contacts as `analysis.cohort.sql.observations` makes
    them. An operation whose window had not passed on the as-of day is judged too, and marked as not due.
    """
    last = pd.Timestamp(as_of)
    operations = frames["operations"].set_index("operation_id").reindex(operation_ids)
    operations = operations.assign(due=operations["operated_on"] + pd.to_timedelta(days, unit="D") < last)
    own = {
        name: _until(frames[name], column, last, operation_ids)
        for name, column in (("observations", "observed_on"), ("cultures", "taken_on"), ("recorded", "on_low"))
    }
    contacts = frames["contacts"]
    contacts = contacts[contacts["contacted_on"] <= last]
    operations["died_low"] = operations["died_low"].where(operations["died_low"] <= last)
    known = reviewed(
        operations, contacts.assign(known_to=contacts["known_to"].where(contacts["known_to"] <= last, last)), days
    )
    operations = operations.assign(reviewed=known)
    by_day = worst_by_day(own["observations"])
    after = by_day[(by_day["phase"] == "after") & by_day["days_after"].between(0, days)].reset_index(drop=True)
    before = by_day[(by_day["phase"] == "before") & (by_day["days_after"] >= -rules.baseline_days)]
    base = baseline(before.reset_index(drop=True), operations)
    outcomes = _outcomes(operations, own, after, base, rules, days)
    return InfectionJudged(
        window_days=days,
        operations=operations,
        outcomes=outcomes,
        days=_with_scores(after, base),
        base=base,
        contradictions=contradictions(own["observations"]),
    )


def _outcomes(
    operations: pd.DataFrame,
    own: Mapping[str, pd.DataFrame],
    after: pd.DataFrame,
    base: pd.DataFrame,
    rules: InfectionRules,
    days: int,
) -> tuple[InfectionOutcome, ...]:
    ids, known, told = operations.index, operations["reviewed"], own["recorded"]

    def over_days(table: pd.DataFrame, nothing: str = NO_OBSERVATION) -> Answer:
        return folded(ids, after, table["state"], seen=table["seen"], missing=table["missing"], nothing=nothing)

    def kinds(*names: str) -> Answer:
        return recorded(operations, told[told["what"].isin(names)], known, days)

    hot = over_days(fever(after, rules), NO_TEMPERATURE)
    urine = culture_answer(operations, own["cultures"], rules.culture_log10, days)
    focus = kinds(*of.OTHER_FOCUS)
    treated = told[told["what"].isin(of.INFECTION_KINDS) | told["antibiotic"].fillna(False)]
    infection = recorded(operations, treated, known, days) | any_growth(
        operations, own["cultures"], rules.culture_log10, days
    )
    scored = sofa(after)
    rise = risen(after, scored, base)
    inflamed, quick = over_days(sirs(after)), over_days(qsofa(after))
    organs = over_days(rise.assign(seen=scored["seen"]))
    sepsis = infection & organs
    shock = sepsis & over_days(shocked(after, rise), "vasopressor, lactate")
    computed = [
        (rules.fever(), hot),
        (rules.febrile_infection(), hot & urine & ~focus),
        (rules.febrile_infection_recorded(), hot & (urine | kinds(*of.URINARY_KINDS)) & ~focus),
        (of.INFECTION, infection),
        (SIRS, inflamed),
        (QSOFA, quick),
        (of.SEPSIS_1991, infection & inflamed),
        (of.SEPSIS_3, sepsis),
        (of.SEPTIC_SHOCK, shock),
    ]
    measured = {rules.fever().id, SIRS.id, QSOFA.id}
    written = [(_as_recorded(name), kinds(*names)) for name, (_, names) in of.RECORDED.items()]
    return (
        *(InfectionOutcome(definition, "computed", definition.id not in measured, one) for definition, one in computed),
        *(InfectionOutcome(definition, "recorded", True, one) for definition, one in written),
    )


def fever(days: pd.DataFrame, rules: InfectionRules) -> pd.DataFrame:
    """Whether the highest temperature of each day reaches the threshold: state, missing and seen of each day."""
    temperature = number(days["temperature_c"])
    state = temperature > rules.fever_c if rules.fever_strict else temperature >= rules.fever_c
    missing = pd.Series("", index=days.index, dtype="string").mask(temperature.isna(), NO_TEMPERATURE)
    return pd.DataFrame({"state": state, "missing": missing, "seen": temperature.notna()})


def _as_recorded(name: str) -> Published:
    label, kinds = of.RECORDED[name]
    return Published(
        id=f"recorded-{name.replace('_', '-')}",
        version="1",
        label=label,
        rule=(
            f"A complication of the kind {' or '.join(kinds)} recorded with its onset in the window; no only when the "
            "complications up to the window's last day, or death, were reviewed"
        ),
        source="as recorded",
    )


def _with_scores(after: pd.DataFrame, base: pd.DataFrame) -> pd.DataFrame:
    """The days with the points of each score."""
    scored = sofa(after)
    tables = {"sirs": sirs(after), "qsofa": qsofa(after), "sofa": scored}
    made = after.copy()
    for name, table in tables.items():
        for column in table.columns:
            if column not in ("missing", "seen", "state"):
                made[f"{name}_{column}"] = table[column]
    rise = risen(after, scored, base)
    return made.assign(sofa_rise_low=rise["rise_low"], sofa_rise_high=rise["rise_high"])


def _until(frame: pd.DataFrame, day: str, last: pd.Timestamp, operation_ids: pd.Index) -> pd.DataFrame:
    """Rows of the operations asked about that are not dated after the last day; without a date they stay."""
    kept = frame["operation_id"].isin(operation_ids) & ~(frame[day] > last)
    return frame[kept].reset_index(drop=True)
