"""Equipment used up: single-use pieces at the price of the day, reusable ones by the use."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pandas as pd

from analysis.outcomes.cost.charges import NO_PRICE, NOT_RECORDED, rated, stated
from analysis.outcomes.cost.rates import ANY, first_of, with_prices
from registry.schema.lists_equipment import EquipmentKind

Reusable = Literal["reprocessing", "purchase"]

CAPITAL = ("energy_generator", "irrigation", "suction_source", "shock_wave_source", "pressure_sensor", "other")
"""Reusable pieces of these kinds stay in the room: they are not reprocessed after each case."""
SPOKEN = {"scope": "flexible scope", "semirigid_scope": "semirigid scope"}
"""What a rate of reprocessing may call a kind, besides its code and label."""
NO_SINGLE_USE = "not said whether single-use"
NO_REPAIR_COST = "no price: a repair without its cost"
NOT_ASKED = "purchase not asked for"


def pieces(uses: pd.DataFrame, operations: pd.DataFrame) -> pd.DataFrame:
    """Every piece opened in an operation of a course: each attempt, one known piece in one operation being one.

    uses: frame of the subject costs. operations: from `operations_placed`. A piece used on both sides is shared by
    them. Columns: those of uses, course_id, share, settled and parties.
    """
    known = uses["item_id"].notna().to_numpy(dtype=bool)
    piece = uses["operation_id"].astype("string") + " " + uses["item_id"].astype("string")
    made = uses.assign(piece=piece.where(known, "use " + uses["use_id"].astype("string")))
    made = made.drop_duplicates(["piece", "side_id"])
    made = made.assign(over=made.groupby("piece")["side_id"].transform("size").astype(float))
    beside = operations[["side_id", "course_id", "settled"]]
    made = made.merge(beside, on="side_id", validate="many_to_one")
    return made.assign(share=1.0 / made["over"], source_id=made["use_id"], on=made["operated_on"], quantity=1.0)


def consumables(opened: pd.DataFrame, operations: pd.DataFrame, prices: pd.DataFrame) -> list[pd.DataFrame]:
    """Charges of single-use pieces, at the price in force on the day; and of what cannot be told.

    opened: from `pieces`. A piece of a model of which nobody said whether it is single-use has no known cost, and
    nor has a side that was begun and of which no equipment is recorded at all.
    """
    single = opened[_single(opened, "yes")]
    priced = with_prices(single, prices).assign(component="consumables", what=_named(single))
    unsaid = opened[opened["single_use"].isna().to_numpy(dtype=bool)]
    begun = (operations["conduct"] != "not_started").fillna(True).to_numpy(dtype=bool)
    bare = operations[begun & ~operations["side_id"].isin(opened["side_id"]).to_numpy(dtype=bool)]
    open_side = _unpriced(bare.assign(source_id=bare["operation_id"], on=bare["operated_on"]), "equipment of a side")
    open_side["quantity"] = np.nan
    return [
        stated(priced, lacking=NO_PRICE),
        stated(_unpriced(unsaid, _named(unsaid)), lacking=NO_SINGLE_USE),
        stated(open_side, lacking=NOT_RECORDED),
    ]


def reusables(
    opened: pd.DataFrame,
    rates: pd.DataFrame,
    *,
    prices: pd.DataFrame,
    items: pd.DataFrame,
    repairs: pd.DataFrame,
    uses: pd.DataFrame,
    how: Reusable,
    price_year: int | None = None,
) -> list[pd.DataFrame]:
    """Charges of reusable pieces, by the use: reprocessing, repairs, and with how=`purchase` the price over its uses.

    opened: from `pieces`. Reprocessing: the rate whose detail is the model, the kind or none. Repairs: all that the
    pieces of a model needed since their first use in the registry, over all uses of that model, so that nobody pays
    for the case in which a piece happened to break. Purchase: the price in force on the day, times the pieces of
    the model that were used, over all their uses, those before the registry with them; it falls as they are used on.
    What stays in the room is not reprocessed, and without `purchase` it is not costed. items, repairs, uses: of the
    whole registry up to the as-of day.
    """
    again = opened[_single(opened, "no")]
    capital = again["kind"].isin(CAPITAL).to_numpy(dtype=bool)
    mobile, fixed = again[~capital], again[capital]
    details = [
        _details(code, kind)
        for code, kind in zip(mobile["model_code"].astype(str), mobile["kind"].astype(str), strict=True)
    ]
    cleaned = mobile.assign(what="reprocessing: " + _named(mobile), item="reprocessing", details=details)
    made = [rated(cleaned, rates, component="reusables", price_year=price_year), _repaired(again, repairs, uses)]
    if how == "purchase":
        return [*made, _bought(again, prices, items, uses)]
    return [
        *made,
        stated(_unpriced(fixed, "purchase: " + _named(fixed), "reusables"), optional=True, lacking=NOT_ASKED),
    ]


def _repaired(again: pd.DataFrame, repairs: pd.DataFrame, uses: pd.DataFrame) -> pd.DataFrame:
    """Repairs of each model by the use; a repair of unknown cost leaves every use of its model without."""
    first = uses[uses["item_id"].notna()].groupby("item_id")["operated_on"].min()
    since = repairs["repaired_on"] >= repairs["item_id"].map(first)
    mine = repairs[since.to_numpy(dtype=bool)]
    by_model = mine.groupby("model_id")
    costs = by_model["cost"].agg(lambda each: each.sum(skipna=False)).astype(float)
    money = {model: "+".join(sorted(set(each.dropna()))) for model, each in by_model["currency"]}
    needed = again[again["model_id"].isin(costs.index).to_numpy(dtype=bool)]
    per_use = costs.reindex(needed["model_id"]).to_numpy(dtype=float) / _uses_of_model(needed, uses)
    made = needed.assign(
        component="reusables",
        what="repairs: " + _named(needed),
        price=per_use,
        currency=needed["model_id"].map(money).astype("string"),
        price_year=_no_year(needed),
    )
    return stated(made, lacking=NO_REPAIR_COST)


def _bought(again: pd.DataFrame, prices: pd.DataFrame, items: pd.DataFrame, uses: pd.DataFrame) -> pd.DataFrame:
    used = items[items["item_id"].isin(uses["item_id"].dropna())]
    by_model = used.groupby("model_id")
    many = by_model.size().reindex(again["model_id"]).to_numpy(dtype=float)
    before = by_model["uses_before"].agg(lambda each: each.sum(skipna=False)).astype(float)
    lives = before.reindex(again["model_id"]).to_numpy(dtype=float) + _uses_of_model(again, uses)
    # Uses that nobody recorded are no price that is missing: they stay unknown whatever is asked about prices.
    made = with_prices(again, prices).assign(quantity=np.where(np.isnan(many / lives), np.nan, 1.0))
    made = made.assign(component="reusables", what="purchase: " + _named(again), price=made["price"] * many / lives)
    return stated(made.assign(price=made["price"].where(made["quantity"].notna(), 0.0)), lacking=NO_PRICE)


def _uses_of_model(needed: pd.DataFrame, uses: pd.DataFrame) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """How often each model was used: pieces opened in the whole registry."""
    piece = uses["operation_id"].astype("string") + " " + uses["item_id"].astype("string")
    name = piece.where(uses["item_id"].notna(), "use " + uses["use_id"].astype("string"))
    counts = uses.assign(piece=name).drop_duplicates("piece").groupby("model_id").size()
    return np.asarray(counts.reindex(needed["model_id"]), dtype=np.float64)


def _unpriced(rows: pd.DataFrame, what: pd.Series | str, component: str = "consumables") -> pd.DataFrame:
    made = rows.assign(component=component, what=what, price=np.nan, quantity=1.0, price_year=_no_year(rows))
    return made.assign(currency=pd.Series(pd.NA, index=rows.index, dtype="string"))


def _no_year(rows: pd.DataFrame) -> pd.Series:
    return pd.Series(pd.NA, index=rows.index, dtype="Int64")


def _single(opened: pd.DataFrame, answer: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return np.asarray((opened["single_use"] == answer).fillna(False), dtype=bool)


def _named(opened: pd.DataFrame) -> pd.Series:
    return opened["model_code"].astype("string")


def _details(code: str, kind: str) -> str:
    label = EquipmentKind(kind).label
    return first_of(code, kind, SPOKEN.get(kind, label), label, ANY)
