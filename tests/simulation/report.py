"""The table of coverage and bias in plain text."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from tests.simulation.claims import CLAIMS
from tests.simulation.measures import FIGURES


def as_text(table: pd.DataFrame, broken: Mapping[str, Mapping[str, list[str]]], made_by: str) -> str:
    """Every figure in percent, then every claim and whether it holds.

    broken: by scenario, the claims that do not hold and how. made_by: the command that makes this table again.
    """
    lines = [
        f"Made by: {made_by}",
        "All in percent. In brackets: one standard error of the simulation. n: mean denominator of the rate.",
        "against truth: mean rate - true value. against full data: the same, cohort by cohort, less the rate that the",
        "very same sides have in truth. Coverage: of the true value, by nominal 95 % intervals.",
    ]
    for scenario, part in table.groupby("scenario", sort=False):
        lines += ["", f"{scenario}, {part['cohorts'].iloc[0]} cohorts", _HEAD]
        lines += [_line(row) for _, row in part.iterrows()]
    lines += ["", "Claims"]
    for scenario, wrong in broken.items():
        for claim in CLAIMS[scenario]:
            name = claim.__name__
            said = "; ".join(wrong[name]) if name in wrong else ""
            lines.append(f"  {scenario}: {name.replace('_', ' ')}: {'DOES NOT HOLD: ' + said if said else 'holds'}")
    return "\n".join(lines) + "\n"


_METHODS = tuple(dict.fromkeys(method for methods in FIGURES.values() for method in methods))
_HEAD = f"  {'at':<4}{'rate':<9}{'n':>6}{'mean':>7}{'true':>7}{'against truth':>15}{'full data':>15}" + "".join(
    f"{method:>14}" for method in _METHODS
)


def _line(row: pd.Series) -> str:
    shares = [_share(row, method) for method in _METHODS]
    return (
        f"  {row['threshold']:<4}{row['rate']:<9}{row['n']:>6.0f}{100 * row['mean']:>7.2f}{100 * row['true']:>7.2f}"
        f"{_signed(row['bias'], row['bias_error']):>15}{_signed(row['off_full'], row['off_full_error']):>15}"
        + "".join(f"{share:>14}" for share in shares)
    ).rstrip()


def _signed(value: float, error: float) -> str:
    return f"{100 * value:+.2f} ({100 * error:.2f})"


def _share(row: pd.Series, method: str) -> str:
    if f"coverage_{method}" not in row or pd.isna(row[f"coverage_{method}"]):
        return ""
    return f"{100 * row[f'coverage_{method}']:.2f} ({100 * row[f'coverage_{method}_error']:.2f})"
