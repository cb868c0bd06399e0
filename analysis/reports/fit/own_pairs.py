"""The unit's own pairs of scope and sheath, and how well they spread: states of the ratio, pairs, operators."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pandas as pd

from analysis.outcomes.fit.outflow import outflow
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.size import of_tenths_fr
from analysis.reports.fit.fit_sections import against_reference, pair_row
from analysis.reports.fit.request import FitRequest
from analysis.reports.fit.words import BANDS, IDEALISED
from analysis.reports.sections.report import Column, Section

ONE_PAIR = (
    "A side's pair is that of sheath and scope in place for most of the lithotripsy, else the last. No sheath is not "
    "applicable, never missing."
)


def own_pair_counts(sides: pd.DataFrame) -> dict[Pair, int]:
    """Every pair with a known ratio and how many sides had it, widest first.

    sides: the cohort, with scope_fr, sheath_inner_fr (Fr, whole tenths) and ratio_state.
    """
    pairs = Counter(known_pairs(sides)["pair"])
    return dict(sorted(pairs.items(), key=lambda item: (-item[0].sheath_to_scope, item[0].scope)))


def known_pairs(sides: pd.DataFrame) -> pd.DataFrame:
    """The sides with a known ratio: pair (a Pair) and operator. Sizes are whole tenths of Fr."""
    known = sides[sides["ratio_state"] == "known"]
    tenths = [known[name].mul(10).round().astype("int64") for name in ("scope_fr", "sheath_inner_fr")]
    made = {size: Pair(of_tenths_fr(size[0]), of_tenths_fr(size[1])) for size in set(zip(*tenths, strict=True))}
    pairs = [made[size] for size in zip(*tenths, strict=True)]
    operator = known["operator"].astype("string").fillna("not recorded").tolist()
    return pd.DataFrame({"pair": pairs, "operator": operator}, dtype="object")


def own_sections(sides: pd.DataFrame, request: FitRequest) -> list[Section]:
    """The unit's pairs, the states of the ratio, and operator by ratio."""
    return [own_pairs_section(sides, request), states_section(sides), operators_section(sides)]


def own_pairs_section(sides: pd.DataFrame, request: FitRequest) -> Section:
    """One row a pair: sides, ratio, reciprocal, band, pressure for the same flow centred and on the wall."""
    counts = own_pair_counts(sides)
    rows: list[dict[str, Any]] = []
    for pair, n in counts.items():
        lies = {
            name: against_reference(outflow(pair, each, request.conditions), request)
            for name, each in (("centred", 0.0), ("on_the_wall", 1.0))
        }
        relative = {f"relative_pressure_{name}": found.pressure if found else None for name, found in lies.items()}
        # The sides are in `sides`, not `n`: nothing of theirs is worked out here that few could betray.
        rows.append({"sides": n, **pair_row(pair), **relative})
    known = int(sum(counts.values()))
    return Section(
        name="own_pairs",
        title="The unit's own pairs",
        rows=rows,
        columns=[
            Column("pair", "pair"),
            Column("sides", "sides", "count"),
            Column("sheath-to-scope", "sheath_to_scope_ratio", "number", 3),
            Column("scope-to-sheath", "scope_to_sheath_ratio", "number", 3),
            Column("pressure, same flow", "relative_pressure_centred", "ratio"),
            Column("on the wall", "relative_pressure_on_the_wall", "ratio"),
            Column("band (scope-to-sheath)", "scope_to_sheath_band"),
        ],
        definition={"bands": BANDS, "sides": known, "one_pair": ONE_PAIR},
        notes=[
            f"{known:,} of {len(sides):,} sides have a known ratio. {ONE_PAIR}",
            "At the length and fluid asked, not at each sheath's own length. " + IDEALISED,
        ],
    )


def states_section(sides: pd.DataFrame) -> Section:
    """How many sides have a ratio, and how many had several pairs."""
    pairs = sides["ratio_pairs"]
    states = sides["ratio_state"].astype("string").value_counts()
    names = ("known", "not applicable", "missing", "impossible")
    rows = [{"what": f"ratio {name}", "sides": int(states.get(name, 0))} for name in names]
    rows.append({"what": "several pairs of sheath and scope", "sides": int((pairs > 1).sum())})
    rows.append({"what": "number of pairs not recorded", "sides": int(pairs.isna().sum())})
    return Section(
        name="ratio_states",
        title="Whether the ratio is known",
        rows=rows,
        columns=[Column("", "what"), Column("sides", "sides", "count")],
        definition={"one_pair": ONE_PAIR, "sides": len(sides)},
        notes=["Impossible: a scope no smaller than its sheath; mend the catalogue's sizes."]
        if rows[3]["sides"]
        else [],
    )


def operators_section(sides: pd.DataFrame) -> Section:
    """Which operators used which ratios: sides by first operator and distinct ratio."""
    known = known_pairs(sides)
    # Equal ratios of other sizes (7.5 in 10, 9 in 12) are one ratio: compared as exact fractions.
    ratios = [pair.sheath_to_scope for pair in known["pair"]]
    counted = Counter(zip(known["operator"], ratios, strict=True))
    rows = [
        {
            "operator": operator,
            "sheath_to_scope_ratio": float(ratio),
            "scope_to_sheath_ratio": float(1 / ratio),
            "sides": n,
        }
        for (operator, ratio), n in sorted(counted.items())
    ]
    used = Counter(row["operator"] for row in rows)
    several, distinct = sum(n > 1 for n in used.values()), len(set(ratios))
    return Section(
        name="operator_by_ratio",
        title="Operator by ratio",
        rows=rows,
        columns=[
            Column("operator", "operator"),
            Column("sheath-to-scope", "sheath_to_scope_ratio", "number", 3),
            Column("scope-to-sheath", "scope_to_sheath_ratio", "number", 3),
            Column("sides", "sides", "count"),
        ],
        definition={"distinct_ratios": distinct, "operators": len(used), "operators_with_several": several},
        notes=[
            f"Distinct ratios: {distinct}. Operators: {len(used)}, of whom {several} used two ratios or more. Where "
            "operators keep to one ratio each, ratio and operator cannot be told apart."
        ],
    )
