"""What one unit of something costs on a day: dated rates with a detail, and dated prices of models."""

from __future__ import annotations

import numpy as np
import pandas as pd

ANY = "-"
"""The detail of a rate that has none: it stands for every one that has no rate of its own."""
BETWEEN = "\n"
PRICED = ("price", "currency", "price_year")


def with_rates(charges: pd.DataFrame, rates: pd.DataFrame, price_year: int | None = None) -> pd.DataFrame:
    """The charges with price, currency and price_year beside them; missing where no rate stands for them.

    charges: site_id, item, details (from `first_of`), on. rates: site_id, item, item_detail, since, amount, currency,
    price_year. Details are compared without regard to case. price_year: only rates written in the prices of that year
    count, and where none was in force yet on the day, the earliest of them does; else a rate counts from its `since`.
    """
    if price_year is not None:
        rates = rates[rates["price_year"] == price_year]
    words = rates["item_detail"].astype("string").str.strip().str.casefold()
    known = {
        key: part.sort_values("since", kind="stable")
        for key, part in rates.assign(word=words).groupby(["site_id", "item", "word"], sort=False)
    }
    found = [pd.DataFrame(columns=list(PRICED))]
    for key, part in charges.groupby(["site_id", "item", "details"], sort=False):
        site, item, details = tuple(key) if isinstance(key, tuple) else (None, None, "")
        open_rows = part
        for detail in str(details).split(BETWEEN):
            held = known.get((site, item, detail.casefold()))
            if held is None or open_rows.empty:
                continue
            priced = _in_force(open_rows["on"], held, backwards=price_year is not None)
            found.append(priced)
            open_rows = open_rows[~open_rows.index.isin(priced.index)]
    return _beside(charges, found)


def with_prices(charges: pd.DataFrame, prices: pd.DataFrame) -> pd.DataFrame:
    """The charges with the price of their model in force on the day; missing where none was.

    charges: model_id, on. prices: model_id, since, amount, currency. price_year stays missing: a price is that of
    its day.
    """
    known = {key: part.sort_values("since", kind="stable") for key, part in prices.groupby("model_id", sort=False)}
    found = [pd.DataFrame(columns=list(PRICED))]
    for model, part in charges.groupby("model_id", sort=False):
        if model in known:
            found.append(_in_force(part["on"], known[model], backwards=False))
    return _beside(charges, found)


def first_of(*words: str) -> str:
    """Details a rate may have: the first in force on the day counts. ANY has to be named."""
    return BETWEEN.join(dict.fromkeys(words))


def _in_force(on: pd.Series, held: pd.DataFrame, *, backwards: bool) -> pd.DataFrame:
    """The rates in force on days, of those that had one; index as of `on`."""
    since = held["since"].to_numpy(dtype="datetime64[s]")
    at = np.searchsorted(since, on.to_numpy(dtype="datetime64[s]"), side="right") - 1
    if backwards:
        at = np.maximum(at, 0)
    rows = held.iloc[at[at >= 0]]
    values = {
        "price": rows["amount"].to_numpy(dtype=float),
        "currency": rows["currency"].to_numpy(dtype=object),
        "price_year": rows["price_year"].to_numpy(dtype=object) if "price_year" in rows else np.full(len(rows), None),
    }
    return pd.DataFrame(values, index=on.index[at >= 0])


def _beside(charges: pd.DataFrame, found: list[pd.DataFrame]) -> pd.DataFrame:
    parts = [part for part in found if len(part)]
    whole = pd.concat(parts) if parts else found[0]
    beside = whole.reindex(charges.index)
    return charges.assign(
        price=pd.to_numeric(beside["price"]).astype(float),
        currency=beside["currency"].astype("string"),
        price_year=pd.to_numeric(beside["price_year"]).astype("Int64"),
    )
