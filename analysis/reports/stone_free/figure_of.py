"""The figure of an answer, as the bytes of a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind
    from analysis.reports.stone_free.answer import Answer


def figure_of(answer: Answer, kind: Kind) -> bytes:
    """The figure, always with complete case and both bounds.

    Raises GravelbookError when there are more groups than it can hold, or none.
    """
    from analysis.figures.stone_free import MOST_GROUPS, Wording, as_bytes, draw
    from analysis.reports.stone_free.definition_lines import SPOKEN_UNIT
    from analysis.reports.stone_free.figure_data import figure_data, in_words
    from analysis.reports.stone_free.rates import UNSCANNED, stone_free_rates

    request = answer.request
    if not 1 <= len(answer.grouping) <= MOST_GROUPS:
        raise GravelbookError(
            f"--figure: there are {len(answer.grouping)} groups, and a figure shows 1 to {MOST_GROUPS}. Split by "
            "another column, cut a number into fewer stretches, or leave sides out with --rules."
        )
    rows = stone_free_rates(
        answer.units, answer.grouping, unscanned=tuple(UNSCANNED), interval=request.interval, level=request.level
    )
    words = [one.on_axis() for one in answer.units.thresholds]
    data = figure_data(rows, answer.grouping.named(), words, request.small_number)
    by = " and ".join(answer.grouping.columns)
    title = f"Stone-free {SPOKEN_UNIT[request.definition.unit]}{f', by {by}' if by else ''}"
    wording = Wording(title=title, notes=_notes(answer), group=by)
    return as_bytes(draw(data, wording), kind, title=title, description=" ".join(in_words(data)))


def _notes(answer: Answer) -> list[str]:
    from analysis.reports.stone_free.text_of_rates import INTERVALS

    request, source = answer.request, answer.source
    weak = int(answer.whole["failed_inadequate"].max()) if len(answer.whole) else 0
    leans = [
        f"Up to {weak:,} failures are known only from inadequate studies, which cannot clear a side, so that full "
        "marks lean low. Open marks, to be read first: without those failures, that is among those whose study is "
        "adequate at the threshold and those decided without a study; 'open n' is their number. None is drawn where "
        f"the rate is the same or from fewer than {request.small_number}."
    ]
    return [
        request.definition.in_words(),
        f"{'Full marks' if weak else 'Marks'}: those with a known status; n is their number at each threshold. Lines: "
        f"{100 * request.level:g} % {INTERVALS[request.interval]} interval, not widened for several from one "
        f"patient. Pale bars: from all unknown counted as failed to all counted as free. As of {source.as_of}, "
        f"snapshot {str(source.snapshot['content_hash'])[:12]}.",
        " ".join([*(leans if weak else ()), *answer.cautions]),
    ]
