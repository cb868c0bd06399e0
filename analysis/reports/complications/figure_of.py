"""The figure of an answer, as the bytes of a file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analysis.outcomes.complications.therapy_levels import II, IIIA, IVA, I, V
from analysis.reports.complications.rates import Happened, HowCounted, rate_rows
from analysis.tables.rounding import percent
from analysis.tables.small_numbers import too_few, withheld
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind
    from analysis.reports.complications.answering import Answer

BANDS = (("V", V, V), ("IV", IVA, V - 1), ("III", IIIA, IVA - 1), ("II", II, II), ("I", I, I))


def figure_of(answer: Answer, kind: Kind) -> bytes:
    """The figure of worst grades among the reviewed, with the bounds of any complication.

    Raises GravelbookError when there are more groups than it can hold, or none.
    """
    from analysis.figures.complications import MOST_GROUPS, Wording, draw
    from analysis.figures.stone_free import as_bytes

    if not 1 <= len(answer.grouping) <= MOST_GROUPS:
        raise GravelbookError(
            f"--figure: there are {len(answer.grouping)} groups, and a figure shows 1 to {MOST_GROUPS}. Split by "
            "another column, cut a number into fewer stretches, or leave sides out with --rules."
        )
    data = figure_data(answer)
    by = " and ".join(answer.grouping.columns)
    title = f"Worst complication of each {answer.units.name}{f', by {by}' if by else ''}"
    wording = Wording(title=title, notes=_notes(answer))
    return as_bytes(draw(data, wording), kind, title=title, description=" ".join(in_words(data)))


def figure_data(answer: Answer) -> pd.DataFrame:
    """What the figure shows, one row a group and window.

    Columns: group, days, n (reviewed, and known whether any), with (any), eligible, shares V, IV, III, II, I and open
    (a complication whose grade is not known), any, low, high, bottom, top, and instead. Shares are 0 and limits NaN
    where `instead` stands for them.
    """
    request, units, grouping = answer.request, answer.units, answer.grouping
    how = HowCounted(("reviewed",), request.interval, request.level)
    rows: list[dict[str, Any]] = []
    for status in answer.statuses:
        happened = Happened(yes=status.low >= I, no=status.high < I, looked=status.reviewed, due=status.due)
        rated = rate_rows(units, grouping, happened, how, {"days": status.days})
        known = status.due & status.reviewed & (happened.yes | happened.no)
        exact = status.low == status.high
        for place, rate in enumerate(rated):
            own = known & (grouping.codes == place)
            n = int(own.sum())
            few = too_few(n, request.small_number) or n == 0
            shares = {
                name: 0.0 if few else int((own & exact & (status.low >= low) & (status.low <= high)).sum()) / n
                for name, low, high in BANDS
            }
            shares["open"] = 0.0 if few else int((own & ~exact & happened.yes).sum()) / n
            limits = {"any": "estimate", "low": "low", "high": "high", "bottom": "lower", "top": "upper"}
            told = withheld(request.small_number) if n else "nobody reviewed"
            rows.append(
                {
                    "group": grouping.named()[place],
                    "days": status.days,
                    "n": n,
                    "with": rate["events"],
                    "eligible": rate["eligible"],
                    **shares,
                    **{name: np.nan if few else rate[key] for name, key in limits.items()},
                    "instead": f"{rate['events']} of {n}, {told}" if few else "",
                }
            )
    return pd.DataFrame(rows)


def in_words(data: pd.DataFrame) -> list[str]:
    """The figure's content as sentences, for people who cannot see it."""
    return [
        f"{row['group']}, {row['days']} days: {row['with']} of {row['n']} reviewed had a complication"
        + (
            ", no rate shown."
            if row["instead"]
            else f", {percent(row['any'])} ({percent(row['low'])} to {percent(row['high'])}); bounds "
            f"{percent(row['bottom'])} to {percent(row['top'])}."
        )
        for row in data.to_dict("records")
    ]


def _notes(answer: Answer) -> list[str]:
    from analysis.outcomes.complications.grade_used import GRADES_BY
    from analysis.outcomes.complications.proposal import RULE
    from analysis.reports.complications.definition_lines import REVIEWED

    request, source = answer.request, answer.asked.source
    return [
        f"Grades: {GRADES_BY[request.grades]} ({RULE}); {request.choices.in_words()}. Reviewed: {REVIEWED}. n: "
        "reviewed with a known answer, of all that are due.",
        f"Lines: {100 * request.level:g} % {request.interval} interval of any complication, not widened for several "
        f"from one patient. As of {source.as_of}, snapshot {str(source.snapshot['content_hash'])[:12]}.",
        " ".join(answer.report.all_cautions),
    ]
