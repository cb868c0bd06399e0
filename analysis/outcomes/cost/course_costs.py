"""What each course cost, and of which the cost cannot be told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from analysis.outcomes.cost.charges import NO_RATE, together
from analysis.outcomes.cost.components import COMPONENTS, COSTED, MISSING, NOT_COSTED
from analysis.outcomes.cost.equipment import Reusable, consumables, pieces, reusables
from analysis.outcomes.cost.placement import courses_begun
from analysis.outcomes.cost.stays import stay_charges, stays
from analysis.outcomes.cost.theatre import Minutes, operations_placed, theatre
from analysis.outcomes.cost.visits import (
    clinic_visits,
    cultures,
    emergency_visits,
    retreatments_elsewhere,
    scans,
    stent_removals,
    therapies,
)
from registry.schema.errors import GravelbookError

MissingPrice = Literal["refuse", "zero"]


@dataclass(frozen=True, kw_only=True)
class CostRules:
    """How courses are costed.

    horizon: last day, the index being day 0. minutes: of the room, else operating; or operating alone. reusable:
    reprocessing and repairs, or the purchase too. components: codes of those counted. missing_price: what a thing
    used costs of which no price or rate is known: not computable (`refuse`), or nothing (`zero`). price_year: only
    rates written in the prices of that year count.
    """

    horizon: int = 90
    minutes: Minutes = "room"
    reusable: Reusable = "reprocessing"
    components: tuple[str, ...] = tuple(COMPONENTS)
    missing_price: MissingPrice = "refuse"
    price_year: int | None = None


@dataclass(frozen=True, eq=False)
class Costs:
    """charges: every charge of every course, as in `charges`, of the components counted. courses: one row a course
    with course_id, index_side, patient_id, begun_on, due (the horizon had passed on the as-of day), a column for the
    amount of each component (NaN where not computable) and `cost`, their sum. zeroed: charges that count as nothing
    because no price is known. intensive_blank: stays of which days in intensive care were not recorded.
    """

    charges: pd.DataFrame
    courses: pd.DataFrame
    zeroed: int
    intensive_blank: int


def course_costs(frames: Mapping[str, pd.DataFrame], rules: CostRules, as_of: pd.Timestamp) -> Costs:
    """What every course of a registry cost.

    frames: those of the subject costs, nothing in them dated after as_of.
    """
    begun = courses_begun(frames["sides"])
    operations = operations_placed(frames["sides"], begun, rules.horizon)
    stayed = stays(frames["admissions"], frames["readmissions"], frames["sides"], operations, begun, rules.horizon)
    charges = together(_parts(frames, rules, begun, operations, stayed))
    charges = charges[charges["component"].isin(rules.components)].reset_index(drop=True)
    zeroed = np.zeros(len(charges), dtype=bool)
    if rules.missing_price == "zero":
        zeroed = ((charges["state"] == MISSING) & charges["price"].isna() & _about_price(charges)).to_numpy(dtype=bool)
        charges.loc[zeroed, "state"], charges.loc[zeroed, "amount"] = COSTED, 0.0
        charges.loc[zeroed, "reason"] = "counted as nothing: " + charges.loc[zeroed, "reason"]
    return Costs(
        charges=charges,
        courses=_summed(charges, begun, rules, as_of),
        zeroed=int(zeroed.sum()),
        intensive_blank=int(stayed.loc[stayed["nights"].notna() & ~stayed["said"].astype(bool), "source_id"].nunique()),
    )


def one_money(charges: pd.DataFrame) -> tuple[str | None, int | None]:
    """The currency and the price year of charges; None where nothing has one.

    Raises GravelbookError when there are several: amounts of two kinds of money, or of two years, make no sum.
    """
    used = charges[(charges["state"] == COSTED) & (charges["quantity"].astype(float) > 0)]
    currencies = sorted({one for each in used["currency"].dropna() for one in str(each).split("+")})
    years = sorted({int(year) for year in used["price_year"].dropna()})
    if len(currencies) > 1:
        example = [f"{name}: {_example(used, used['currency'].str.contains(name, regex=False))}" for name in currencies]
        raise GravelbookError(
            f"The costs of these courses are in {' and '.join(currencies)} ({'; '.join(example)}), and amounts in two "
            "currencies make no sum. Enter prices, repairs and rates in one currency (sheets Price, Repair and Cost "
            "rate), or leave out what is in the other with --components or --rules."
        )
    if len(years) > 1:
        example = [f"{year}: {_example(used, used['price_year'] == year)}" for year in years]
        raise GravelbookError(
            f"The rates of these courses are in prices of {' and '.join(map(str, years))} ({'; '.join(example)}), and "
            f"prices of several years make no sum. Enter the rates in the prices of one year (sheet Cost rate), or "
            f"say which year's rates count for all days with --price-year {years[-1]}."
        )
    return (currencies[0] if currencies else None), (years[0] if years else None)


def _parts(
    frames: Mapping[str, pd.DataFrame],
    rules: CostRules,
    begun: pd.DataFrame,
    operations: pd.DataFrame,
    stayed: pd.DataFrame,
) -> Sequence[pd.DataFrame]:
    rates, horizon, year = frames["rates"], rules.horizon, rules.price_year
    opened = pieces(frames["uses"], operations)
    later = frames["later"]
    return [
        theatre(operations, rates, minutes=rules.minutes, price_year=year),
        *consumables(opened, operations, frames["prices"]),
        *reusables(
            opened,
            rates,
            prices=frames["prices"],
            items=frames["items"],
            repairs=frames["repairs"],
            uses=frames["uses"],
            how=rules.reusable,
            price_year=year,
        ),
        *stay_charges(stayed, rates, year),
        clinic_visits(frames["contacts"], begun, rates, horizon, year),
        emergency_visits(later, begun, rates, horizon, year),
        scans(frames["examinations"], frames["units_seen"], begun, rates, horizon, year),
        stent_removals(frames["removals"], begun, rates, horizon, year),
        *therapies(frames["therapies"], begun, rates, horizon, year),
        cultures(frames["cultures"], begun, rates, horizon, year),
        retreatments_elsewhere(later, begun, rates, horizon, year),
    ]


def _summed(charges: pd.DataFrame, begun: pd.DataFrame, rules: CostRules, as_of: pd.Timestamp) -> pd.DataFrame:
    made = begun[["course_id", "index_side", "patient_id", "begun_on"]].sort_values("course_id", ignore_index=True)
    columns = list(rules.components)
    row = pd.Index(made["course_id"]).get_indexer(pd.Index(charges["course_id"]))
    column = pd.Index(columns).get_indexer(pd.Index(charges["component"].astype(object)))
    # The NaN of one charge that is missing makes the whole component missing; what is not costed adds nothing.
    amounts = np.where(charges["state"] == NOT_COSTED, 0.0, charges["amount"].to_numpy(dtype=float))
    values = np.zeros((len(made), len(columns)))
    np.add.at(values, (row, column), amounts)
    made = made.assign(due=made["begun_on"] + pd.Timedelta(days=rules.horizon) <= as_of)
    made[columns] = values
    return made.assign(cost=values.sum(axis=1))


def _about_price(charges: pd.DataFrame) -> pd.Series:
    """Missing for want of a price or rate alone: what was used, and that it was, is known."""
    return charges["reason"].isin([NO_RATE]) | charges["reason"].str.startswith("no price").fillna(False)


def _example(used: pd.DataFrame, mask: pd.Series) -> str:
    first = used[mask.fillna(False).to_numpy(dtype=bool)].iloc[0]
    return f"{first['what']} on {pd.Timestamp(first['on']).date()}"
