"""Everyone treated with what a safety notice names, read from the registry itself: snapshots hold no lot and serial.

Everybody counts, whoever refused research use. Lots and serial numbers are read, names and hospital numbers never.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from analysis.cohort.columns import nearest
from analysis.reports.equipment.matching import NO, Match, Use, matched
from analysis.reports.equipment.notice import Notice
from registry.schema.errors import GravelbookError
from registry.schema.lists_people import ResearchUse
from registry.schema.udi import identifier_of, read_udi

COLUMNS: dict[str, tuple[str, ...]] = {
    "equipment_use": (
        "id",
        "treated_side_id",
        "use_number",
        "equipment_model_id",
        "equipment_item_id",
        "result",
        "lot",
        "serial_as_scanned",
        "udi",
    ),
    "equipment_model": ("id", "model_code", "kind", "device_identifier"),
    "equipment_item": ("id", "serial"),
    "treated_side": ("id", "operation_id", "renal_unit_id", "conduct"),
    "renal_unit": ("id", "unit", "unit_number"),
    "operation": ("id", "patient_id", "operated_on", "day_number"),
    "patient": ("id", "site_id", "study_number", "research_use", "died_on", "not_to_be_contacted"),
    "patient_key": ("patient_id", "erased_at"),
    "site": ("id", "code"),
}


@dataclass(frozen=True, kw_only=True)
class Traced:
    """Uses that fit, at best certainly; one row a use, in the order of verdict and time.

    uses: match, where_from, study_number, site, operated_on, day_number, renal_unit, use_number, kind, model, result,
    dead, not_to_be_contacted, erased, refused_research, lot, serial_as_scanned, item_serial, udi, use_id, patient_id.
    looked_at: how many uses there are, in the days asked for. sides_without: treated sides of these days, unless not
    started, without a single use.
    """

    notice: Notice
    uses: pd.DataFrame
    looked_at: int
    sides_without: int


def trace(location: str, notice: Notice) -> Traced:
    """Find every use that fits a notice.

    Raises GravelbookError for a model that is not in the catalogue, and whatever is at fault in the registry.
    """
    from registry.store.reading import open_reader
    from registry.store.registry import open_registry

    with open_registry(location) as registry, open_reader(registry, COLUMNS) as reader:
        read = {name: reader.frame(name, columns) for name, columns in COLUMNS.items()}
    return found_among(read, notice)


def found_among(read: Mapping[str, pd.DataFrame], notice: Notice) -> Traced:
    """The same of tables that are at hand, each with its COLUMNS. Raises as `trace`."""
    models = read["equipment_model"]
    codes = models["model_code"].astype("object")
    if notice.model is not None and not (codes == notice.model).any():
        if codes.empty:
            raise GravelbookError(
                "The catalogue holds no model yet (sheet Equipment model), so none can be looked for."
            )
        near = nearest(notice.model, sorted(set(codes)))
        raise GravelbookError(
            f"There is no model {notice.model!r} in the catalogue of any site. {near} Or look for it by what its label "
            "says: --lot, --serial or --udi."
        )
    listed = {text: identifier_of(text) for text in models["device_identifier"].dropna().unique()}
    own = models.loc[(codes == notice.model).to_numpy(dtype=bool), "device_identifier"].dropna()
    identifiers = {found for text in own if (found := listed[text]) is not None}
    inner = _of_days(_uses(read), notice)
    matches = [matched(_use(row, listed), notice, identifiers) for row in inner.to_dict("records")]
    sides = read["treated_side"].merge(_prefixed(read["operation"], "operation_id"), on="operation_id")
    begun = _of_days(sides[(sides["conduct"].fillna("") != "not_started").to_numpy(dtype=bool)], notice)
    without = ~begun["id"].isin(read["equipment_use"]["treated_side_id"])
    kept = _kept(inner, matches)
    return Traced(notice=notice, uses=kept, looked_at=len(inner), sides_without=int(without.sum()))


def _of_days(frame: pd.DataFrame, notice: Notice) -> pd.DataFrame:
    days = frame["operated_on"]
    inside = days.notna()
    if notice.since:
        inside &= days >= pd.Timestamp(notice.since)
    if notice.until:
        inside &= days <= pd.Timestamp(notice.until)
    return frame[inside.to_numpy(dtype=bool)]


def _kept(uses: pd.DataFrame, matches: list[Match]) -> pd.DataFrame:
    order = ["certain", "possible", "cannot be excluded", NO]
    made = uses.assign(
        match=pd.Categorical([one.verdict for one in matches], categories=order, ordered=True),
        where_from=pd.array([one.where for one in matches], dtype="string"),
    )
    made = made[(made["match"] != NO).to_numpy(dtype=bool)]
    return made.sort_values(
        ["match", "operated_on", "study_number", "day_number", "use_number"], kind="stable", ignore_index=True
    )


def _use(row: Mapping[Any, Any], listed: dict[str, str | None]) -> Use:
    def text(name: str) -> str | None:
        value = row[name]
        return None if pd.isna(value) else str(value)

    udi, identifier = text("udi"), text("device_identifier")
    return Use(
        model=str(row["model"]),
        identifier=listed.get(identifier) if identifier else None,
        lot=text("lot"),
        serial_as_scanned=text("serial_as_scanned"),
        item_serial=text("item_serial"),
        udi=udi,
        code=read_udi(udi, row["operated_on"].date()) if udi else None,
    )


def _uses(read: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Every use with what it leads to, one row a use."""
    keys = read["patient_key"]
    erased = set(keys.loc[keys["erased_at"].notna().to_numpy(dtype=bool), "patient_id"])
    patient = read["patient"].merge(_prefixed(read["site"], "site_id", code="site"), on="site_id", how="left")
    joined = (
        read["equipment_use"]
        .rename(columns={"id": "use_id"})
        .merge(_prefixed(read["equipment_model"], "equipment_model_id", model_code="model"), on="equipment_model_id")
        .merge(_prefixed(read["equipment_item"], "equipment_item_id", serial="item_serial"), how="left")
        .merge(_prefixed(read["treated_side"], "treated_side_id"), on="treated_side_id")
        .merge(_prefixed(read["renal_unit"], "renal_unit_id"), on="renal_unit_id")
        .merge(_prefixed(read["operation"], "operation_id"), on="operation_id")
        .merge(_prefixed(patient, "patient_id"), on="patient_id")
    )
    several = (joined["unit_number"] > 1).to_numpy(dtype=bool, na_value=False)
    unit = joined["unit"].astype("string")
    return joined.assign(
        renal_unit=unit.mask(several, unit + " " + joined["unit_number"].astype("string")),
        dead=joined["died_on"].notna(),
        not_to_be_contacted=(joined["not_to_be_contacted"] == "yes").to_numpy(dtype=bool, na_value=False),
        refused_research=(joined["research_use"] == ResearchUse.NO).to_numpy(dtype=bool, na_value=False),
        erased=joined["patient_id"].isin(erased),
    ).sort_values("use_id", ignore_index=True)


def _prefixed(frame: pd.DataFrame, key: str, **names: str) -> pd.DataFrame:
    return frame.rename(columns={"id": key, **names})
