"""The rows of weighted and imputed rates in words and rounded numbers, and the models behind them."""

from __future__ import annotations

import pandas as pd

from analysis.reports.stone_free.answer import Answer
from analysis.reports.stone_free.imputed import ImputedClasses
from analysis.reports.stone_free.unscanned_covariates import MISSING_IN_WORDS
from analysis.reports.stone_free.weighted import Weighted
from analysis.tables.plain_text import paragraph
from analysis.tables.rounding import NOTHING, percent, percent_range
from analysis.tables.small_numbers import too_few, withheld

HEADERS = {
    "weighted": ["eligible", "n", "effective n", "rate", "patients resampled"],
    "imputed": ["eligible", "unknown", "rate", "interval", "by patient"],
}
TRUST = {
    "weighted": "Right if having an adequate study hangs on nothing but what the model holds; the bounds hold anyway.",
    "imputed": "Right if what is not known is missing by nothing but what the model holds, and a little low where few "
    "studies are adequate and most others overlook little; the bounds hold anyway.",
}


def modelled_cells(rows: pd.DataFrame, mode: str, small: int) -> tuple[list[str], list[list[str]]]:
    """Header and cells of the table of one handling."""
    body = []
    for row in rows.to_dict("records"):
        n = float(row["n"])
        counts = [f"{row['eligible']:,}"]
        if mode == "weighted":
            kish = row["n_effective"]
            counts += [f"{row['n']:,}", NOTHING if pd.isna(kish) else f"{kish:,.0f}"]
            shown = [percent(row["rate"]), percent_range(row["low"], row["high"])]
        else:
            counts += [f"{row['unknown']:,}"]
            wide = percent_range(row["low_clustered"], row["high_clustered"])
            shown = [percent(row["rate"]), percent_range(row["low"], row["high"]), wide]
        if too_few(n, small):
            shown = [withheld(small), *([NOTHING] * (len(shown) - 1))]
        body.append([*counts, *shown])
    return HEADERS[mode], body


def models_text(answer: Answer, mode: str, rows: pd.DataFrame) -> str:
    """What the model holds, how it was fitted and drawn, and why a rate is missing."""
    weights, classes = answer.modelled.weighted, answer.modelled.imputed
    said = []
    if mode == "weighted" and weights is not None:
        said = _of_weights(weights, answer)
    if mode == "imputed" and classes is not None:
        said = _of_classes(classes)
    names = answer.grouping.named()
    reasons = dict.fromkeys(
        f"{names[row['group']]} at {row['threshold']}: {row['reason']}"
        for row in rows.to_dict("records")
        if isinstance(row["reason"], str)
    )
    if reasons:
        said.append(f"Of note: {'; '.join(reasons)}.")
    said.append(TRUST[mode])
    return paragraph(" ".join(said), indent="  ")


def _of_weights(found: Weighted, answer: Answer) -> list[str]:
    request = answer.request
    fits = [
        f"at {code} {made.observed:,} of {made.modelled:,}"
        + (
            f", weights before normalising cut at {made.truncated_at:.2f} ({made.truncated:,})"
            if made.truncated_at is not None
            else ""
        )
        for code, made in found.by_code.items()
    ]
    return [
        f"Chance of an adequate study by logistic regression on {', '.join(found.covariates.spoken) or 'nothing'}; "
        f"{MISSING_IN_WORDS}. Adequately studied: {'; '.join(fits)} (the 99th percentile). Those treated again or "
        f"abandoned, or whose kidney was lost, weigh 1. Interval: {request.replicates:,} resamples of patients with "
        f"the model refitted (seed {request.seed}), percentile; 'effective n' is Kish's."
    ]


def _of_classes(found: ImputedClasses) -> list[str]:
    return [
        f"Size class (none, up to 2, up to 4, over 4 mm) by an ordered logistic model on "
        f"{', '.join(found.spoken) or 'nothing'}, learnt from {found.modelled:,} of {found.parts:,}; "
        f"{MISSING_IN_WORDS}. {found.imputations} imputations (seed {found.seed}) of {found.drawn:,} whose class is "
        "open, each with the model fitted anew to a resample of patients, among the classes that what was seen "
        "leaves possible; "
        "what a study not adequate at every size did not show is less likely "
        "there. Pooled on the logit by Rubin's rules (Barnard-Rubin degrees of freedom)."
    ]
