"""One row an operation with the components of every infectious outcome."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.infection.days import ALSO_LOWEST, EITHER, HIGHEST, LOWEST
from analysis.outcomes.infection.judged import InfectionJudged
from analysis.outcomes.infection.sofa import SYSTEMS

SEPSIS_IDS = ("sepsis-1991", "sepsis-3-2016", "septic-shock-2016")


def case_table(made: InfectionJudged) -> pd.DataFrame:
    """The table that `infection_section.infection_cases` describes, in order of the operation's key."""
    ids = made.operations.index
    parts = [
        made.operations[["patient_id", "study_number", "operated_on", "due", "reviewed"]].assign(
            window_days=made.window_days
        ),
        _worst(made.days).reindex(ids),
        *(_peak(made.days, score, parts).reindex(ids) for score, parts in _SCORES.items()),
        made.base.add_prefix("sofa_before_").rename(columns={"sofa_before_assumed": "sofa_before_assumed_0"}),
    ]
    table = pd.concat(parts, axis=1)
    for outcome in made.outcomes:
        state = outcome.answer.state
        told = pd.Series("not computable", index=ids, dtype="string")
        table[outcome.definition.id] = told.mask(state.fillna(False), "yes").mask(~state.fillna(True), "no")
        table[f"{outcome.definition.id}_missing"] = outcome.answer.missing
    met = pd.DataFrame({name: table[name] == "yes" for name in SEPSIS_IDS})
    table["sepsis_definition"] = [", ".join(met.columns[row]) for row in met.to_numpy(bool)]
    named = made.contradictions.groupby("operation_id")["what"].agg("; ".join)
    table["contradictions"] = named.reindex(ids).fillna("").astype("string")
    return table.reset_index()


_SCORES = {
    "sirs": ("temperature", "heart_rate", "respiration", "white_cells"),
    "qsofa": ("respiration", "coma", "pressure"),
    "sofa": (*(f"{name}_{end}" for name in SYSTEMS for end in ("low", "high")), "total", "rise_low", "rise_high"),
}


def _worst(days: pd.DataFrame) -> pd.DataFrame:
    """The worst of each measure over the window, and the number of days with any observation."""
    by = days.groupby("operation_id")
    made = {name: by[name].max() for name in (*HIGHEST, *EITHER)}
    made.update({name: by[name].min() for name in (*LOWEST, *ALSO_LOWEST.values())})
    return pd.DataFrame({"days_observed": by.size(), **made})


def _peak(days: pd.DataFrame, score: str, parts: tuple[str, ...]) -> pd.DataFrame:
    """A score on the day on which it stood highest for certain; of equal days the first."""
    low, high = f"{score}_low", f"{score}_high"
    ordered = days.sort_values(["operation_id", low, high, "days_after"], ascending=[True, False, False, True])
    first = ordered.drop_duplicates("operation_id").set_index("operation_id")
    wanted = [low, high, *(f"{score}_{part}" for part in parts)]
    return first[wanted].assign(**{f"{score}_day": first["days_after"]})
