"""What follows an operation: visits, scans, stents taken out, treatment elsewhere, drugs and other therapies."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from analysis.outcomes.cost.charges import rated
from analysis.outcomes.cost.components import ELSEWHERE
from analysis.outcomes.cost.placement import placed
from analysis.outcomes.cost.rates import ANY, first_of
from analysis.outcomes.cost.stays import LAST_OF_DAY
from registry.schema.lists_outcome import TherapyKind
from registry.schema.lists_stone import Modality

RATED_SCANS = ("ct", "ultrasound", "kub")
NOT_A_SCAN = ("second_look",)
"""A second look is an operation, and costed as one."""

DRUGS = (
    "antiemetic",
    "antipyretic",
    "analgesic",
    "diuretic",
    "fluids",
    "antibiotic",
    "prolonged_prophylaxis",
    "alpha_blocker",
    "anticoagulant",
    "vasopressor",
    "other_drug",
)
IN_THE_STAY = ("none", "intermediate_care", "intensive_care", "ventilation")
"""Therapies that are nothing, or that bed days and days in intensive care pay for."""


def clinic_visits(
    contacts: pd.DataFrame, begun: pd.DataFrame, rates: pd.DataFrame, horizon: int, price_year: int | None = None
) -> pd.DataFrame:
    """Charges of contacts in the clinic, after the day of the index."""
    events = contacts.assign(event_id=contacts["contact_id"], renal_unit_id=_no_unit(contacts), number=np.nan)
    used = _used(events, begun, horizon, what="clinic visit", item="clinic_visit", details=ANY)
    return rated(used, rates, component="clinic", price_year=price_year)


def emergency_visits(
    later: pd.DataFrame, begun: pd.DataFrame, rates: pd.DataFrame, horizon: int, price_year: int | None = None
) -> pd.DataFrame:
    """Charges of unplanned attendances; one elsewhere only where a rate with that detail is there."""
    seen = later[(later["what"] == "unplanned_attendance").to_numpy(dtype=bool)]
    away = _elsewhere(seen)
    events = seen.assign(event_id=seen["entry_id"], number=LAST_OF_DAY)
    words = np.where(away, "emergency visit elsewhere", "emergency visit")
    used = _used(events, begun, horizon, what=words, item="emergency_visit", details=np.where(away, ELSEWHERE, ANY))
    return rated(used, rates, component="emergency", price_year=price_year, optional=_away(used))


def retreatments_elsewhere(
    later: pd.DataFrame, begun: pd.DataFrame, rates: pd.DataFrame, horizon: int, price_year: int | None = None
) -> pd.DataFrame:
    """Charges of stone treatments elsewhere, only where a rate other with the detail `retreatment elsewhere` is there.

    A detail may name the technique too: `retreatment elsewhere flexible`.
    """
    done = later[(later["what"] == "retreatment").to_numpy(dtype=bool)]
    events = done.assign(event_id=done["entry_id"], number=LAST_OF_DAY)
    plain = "retreatment elsewhere"
    details = [
        plain if pd.isna(technique) else first_of(*(f"{plain} {word}" for word in _spellings(str(technique))), plain)
        for technique in done["technique"]
    ]
    used = _used(events, begun, horizon, what=plain, item="other", details=details)
    return rated(used, rates, component="elsewhere", price_year=price_year, optional=True)


def scans(
    examinations: pd.DataFrame,
    units_seen: pd.DataFrame,
    begun: pd.DataFrame,
    rates: pd.DataFrame,
    horizon: int,
    price_year: int | None = None,
) -> pd.DataFrame:
    """Charges of examinations after the day of the index (on it: only when recorded as after the operation).

    A scan read for several renal units is shared by their courses. One elsewhere, or of another kind, is costed only
    where there is a rate (other kinds: an item other with the kind as its detail).
    """
    made = examinations[~examinations["modality"].isin(NOT_A_SCAN)]
    away, kind = _elsewhere(made), made["modality"].astype(object)
    listed = kind.isin(RATED_SCANS)
    events = made.assign(
        number=np.where(made["after_operation"].fillna(False).astype(bool), LAST_OF_DAY, np.nan),
        what=kind.map(dict(zip(Modality.codes(), [one.label for one in Modality], strict=True)))
        + np.where(away, " elsewhere", ""),
        item=kind.where(listed, "other"),
        details=np.where(away, ELSEWHERE, np.where(listed, ANY, kind.astype(str))),
        may=(away | ~listed).to_numpy(dtype=bool),
    )
    events = events.merge(units_seen, on="examination_id", how="left").rename(columns={"examination_id": "event_id"})
    events["renal_unit_id"] = events["renal_unit_id"].astype("Int64")
    used = _used(events, begun, horizon)
    return rated(used, rates, component="scans", price_year=price_year, optional=used["may"])


def stent_removals(
    removals: pd.DataFrame, begun: pd.DataFrame, rates: pd.DataFrame, horizon: int, price_year: int | None = None
) -> pd.DataFrame:
    """Charges of stents taken out after the index, with the place as the rate's detail.

    One taken out in an operation here is paid for by its theatre minutes. At home by the string, or elsewhere, it
    costs only where a rate with that detail is there. Nephrostomies and catheters are not charged: no rate is for
    them.
    """
    mine = (removals["kind"] == "stent").fillna(False) & ~removals["in_operation"].fillna(False)
    taken = removals[mine.to_numpy(dtype=bool)]
    place = taken["removed_where"].astype(object).where(taken["removed_where"].notna(), None)
    free = place.isin(["home", ELSEWHERE])
    events = taken.assign(
        event_id=taken["drain_id"],
        number=np.nan,
        what=[
            "stent taken out" + {None: "", "home": " at home", ELSEWHERE: " elsewhere"}.get(w, f" in {w}")
            for w in place
        ],
        item="stent_removal",
        details=[w if w in ("home", ELSEWHERE) else ANY if w is None else first_of(w, ANY) for w in place],
        may=free.to_numpy(dtype=bool),
    )
    used = _used(events, begun, horizon)
    return rated(used, rates, component="stent_removal", price_year=price_year, optional=used["may"])


def therapies(
    given: pd.DataFrame, begun: pd.DataFrame, rates: pd.DataFrame, horizon: int, price_year: int | None = None
) -> list[pd.DataFrame]:
    """Charges of therapies of complications: drugs by a rate drug, others by a rate other, where there is one.

    The rate's detail is the therapy's code or label, with or without `course` after it, or for a drug none. What
    was an operation here, or is paid for by the stay, is left out.
    """
    kept = given[given["treating_operation_id"].isna() & ~given["what"].isin(IN_THE_STAY)]
    labels: Mapping[str, str] = {one.value: one.label for one in TherapyKind}
    made = []
    for component, item, mask in (
        ("drugs", "drug", kept["what"].isin(DRUGS)),
        ("other", "other", ~kept["what"].isin(DRUGS)),
    ):
        part = kept[mask.to_numpy(dtype=bool)]
        codes = [str(code) for code in part["what"]]
        last = (ANY,) if item == "drug" else ()
        details = [first_of(*_names(code, labels[code]), *last) for code in codes]
        events = part.assign(event_id=part["therapy_id"], number=LAST_OF_DAY)
        used = _used(events, begun, horizon, what=[labels[code] for code in codes], item=item, details=details)
        made.append(rated(used, rates, component=component, price_year=price_year, optional=True))
    return made


def cultures(
    taken: pd.DataFrame, begun: pd.DataFrame, rates: pd.DataFrame, horizon: int, price_year: int | None = None
) -> pd.DataFrame:
    """Charges of cultures after the day of the index, where a rate other `culture` or `urine culture` is there."""
    specimen = [str(one) for one in taken["specimen"]]
    events = taken.assign(event_id=taken["culture_id"], renal_unit_id=_no_unit(taken), number=np.nan)
    details = [first_of(f"{one} culture", "culture") for one in specimen]
    used = _used(events, begun, horizon, what="culture", item="other", details=details)
    return rated(used, rates, component="other", price_year=price_year, optional=True)


def _used(events: pd.DataFrame, begun: pd.DataFrame, horizon: int, **said: object) -> pd.DataFrame:
    """The events placed, each used once, with what is said of them."""
    events = events.assign(**said)  # type: ignore[arg-type]
    where = placed(events, begun, horizon)
    beside = events.drop_duplicates("event_id").drop(columns="renal_unit_id")
    made = where.merge(beside, on="event_id", validate="many_to_one")
    return made.assign(source_id=made["event_id"], on=made["on_low"], quantity=1.0)


def _names(code: str, label: str) -> tuple[str, ...]:
    spoken = code.replace("_", " ")
    return code, spoken, f"{spoken} course", label


def _spellings(code: str) -> tuple[str, str]:
    return code, code.replace("_", " ")


def _no_unit(frame: pd.DataFrame) -> pd.Series:
    return pd.Series(pd.NA, index=frame.index, dtype="Int64")


def _elsewhere(frame: pd.DataFrame) -> pd.Series:
    return (frame["place"] == ELSEWHERE).fillna(False).astype(bool)


def _away(used: pd.DataFrame) -> pd.Series:
    return (used["details"] == ELSEWHERE).astype(bool)
