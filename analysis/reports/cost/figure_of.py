"""The figure of an answer, as the bytes of a file."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analysis.estimators.ratio_of_sums import ratio_of_sums
from analysis.outcomes.thresholds import Threshold
from analysis.reports.cost.comparison_sections import Compared
from analysis.reports.cost.counting import counted
from analysis.reports.cost.gathered import Gathered
from analysis.reports.cost.ratio_section import threshold_words
from analysis.tables.rounding import number, points
from analysis.tables.small_numbers import too_few, withheld
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.cost import Panel
    from analysis.figures.stone_free import Kind


def figure_of(held: Gathered, found: list[Compared], kind: Kind) -> bytes:
    """The plane of the comparison, complete case, one panel a threshold; without one, cost per case by group.

    Raises GravelbookError when there are more thresholds or groups than it can hold, or none.
    """
    return _plane(held, found, kind) if held.request.contrast else _groups(held, kind)


def _plane(held: Gathered, found: list[Compared], kind: Kind) -> bytes:
    from analysis.figures.cost import MOST_PANELS, draw_plane
    from analysis.figures.stone_free import as_bytes

    contrast, request = held.request.contrast, held.request
    first = request.unscanned[0]
    shown = [one for one in found if one.unscanned == first]
    if contrast is None or len(shown) > MOST_PANELS:
        raise GravelbookError(
            f"--figure: there are {len(shown)} thresholds, and the plane shows at most {MOST_PANELS}. Name fewer with "
            "--threshold."
        )
    panels = [_panel(one, request.small_number) for one in shown]
    title = f"Cost and stone-free rate: {contrast.index} against {contrast.comparator}"
    dashed = " Dashed: below it the index is worth its cost at that amount for a further stone-free case."
    notes = [
        f"Points: {request.replicates:,} resamples of patients; ring: the estimate; {first} case of {_sizes(shown)}. "
        f"Costs to day {request.rules.horizon}.{dashed if request.willing else ''}",
        *_where(held),
    ]
    figure = draw_plane(panels, title=title, notes=notes, money=held.currency or "", willing=request.willing)
    words = [
        f"{panel.name}: {panel.instead or f'{number(panel.cost, 0)}, {points(panel.rate)} points'}" for panel in panels
    ]
    return as_bytes(figure, kind, title=title, description="; ".join(words))


def _panel(one: Compared, small_number: int) -> Panel:
    from analysis.figures.cost import Panel

    made, smaller = one.made, min(one.made.n_index, one.made.n_comparator)
    empty = made.quadrants is None or made.effect.estimate is None or made.cost.estimate is None
    instead = "nothing to compare" if empty else withheld(small_number) if too_few(smaller, small_number) else ""
    return Panel(
        name=f"largest left {threshold_words(one.threshold)}",
        cloud=made.cloud,
        rate=made.effect.estimate or 0.0,
        cost=made.cost.estimate or 0.0,
        shares=made.quadrants or {},
        instead=instead,
    )


def _sizes(shown: list[Compared]) -> str:
    sizes = [f"{one.made.n_index:,} against {one.made.n_comparator:,}" for one in shown]
    return f"{', '.join(dict.fromkeys(sizes))} courses"


def _groups(held: Gathered, kind: Kind) -> bytes:
    from analysis.figures.cost import MOST_GROUPS, draw_groups
    from analysis.figures.stone_free import as_bytes

    if not 1 <= len(held.by) <= MOST_GROUPS:
        raise GravelbookError(
            f"--figure: there are {len(held.by)} groups, and a figure shows 1 to {MOST_GROUPS}. Split by another "
            "column, cut a number into fewer stretches, or leave sides out with --rules."
        )
    rows = [_shown(held, place, threshold) for place in range(len(held.by)) for threshold in held.thresholds]
    by = " and ".join(held.by.columns)
    title = f"Cost per stone-free case{f', by {by}' if by else ''}"
    notes = [
        f"Points: all courses of known status and cost, failures included; lines: {100 * held.request.level:g} % "
        "interval by resampling patients. Pale bars: from every course of unknown status stone-free to each failed. "
        f"Costs to day {held.request.rules.horizon}.",
        *_where(held),
    ]
    figure = draw_groups(pd.DataFrame(rows), title=title, notes=notes, money=held.currency or "")
    words = [f"{row['group']}, {row['threshold']}: {row['instead'] or format(row['cost'], '.0f')}" for row in rows]
    return as_bytes(figure, kind, title=title, description="; ".join(words))


def _shown(held: Gathered, place: int, threshold: Threshold) -> dict[str, Any]:
    request, own = held.request, held.by.codes == place
    made = {}
    for unscanned in ("complete", "lower", "upper"):
        free, inside = counted(held, threshold.code, unscanned)
        n = own & inside
        made[unscanned] = ratio_of_sums(
            held.courses["cost"].to_numpy(dtype=float)[n],
            free[n].astype(float),
            held.patient[n],
            seed=request.seed,
            replicates=request.replicates if unscanned == "complete" else 1,
            level=request.level,
        )
    whole = made["complete"]
    few = too_few(whole.n, request.small_number)
    instead = (
        withheld(request.small_number)
        if few
        else ""
        if whole.estimate is not None
        else "nobody free"
        if whole.n
        else "no course in n"
    )
    top, bottom = made["lower"].estimate, made["upper"].estimate
    numbers = {
        "cost": whole.estimate,
        "low": whole.bootstrap.low,
        "high": whole.bootstrap.high,
        "bottom": bottom,
        "top": math.inf if top is None and made["lower"].n else top,
    }
    hidden = dict.fromkeys(numbers, math.nan)
    return {
        "group": held.by.named()[place],
        "threshold": threshold_words(threshold),
        "stone_free": int(whole.under),
        "n": whole.n,
        "instead": instead,
        **(hidden if instead else {name: np.nan if value is None else value for name, value in numbers.items()}),
    }


def _where(held: Gathered) -> list[str]:
    source = held.asked.source
    year = f"rates in prices of {held.price_year}, " if held.price_year else ""
    loud = "MISSING PRICES WERE COUNTED AS NOTHING: all too low. " if held.costs.zeroed else ""
    return [
        held.stone_free.definition.in_words(),
        f"{loud}The hospital's costs, {year}not discounted. As of {source.as_of}, snapshot "
        f"{str(source.snapshot['content_hash'])[:12]}. Audit figures: small numbers and case mix mislead. A "
        "figure never ranks a surgeon by itself.",
    ]
