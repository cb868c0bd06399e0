"""The answer as a page to read."""

from __future__ import annotations

from analysis.outcomes.ladder import RUNGS
from analysis.reports.stone_free.answer import Answer
from analysis.reports.stone_free.definition_lines import SPOKEN_UNIT, definition_lines
from analysis.reports.stone_free.packed import SEEN_BY
from analysis.reports.stone_free.text_of_comparisons import comparisons_text
from analysis.reports.stone_free.text_of_rates import rates_text
from analysis.tables.plain_text import aligned, labelled, paragraph
from analysis.tables.rounding import percent

SPOKEN_MODALITY = {
    "second_look": "endoscopic second look",
    "ct": "CT",
    "us+kub": "ultrasound with plain film",
    "ultrasound": "ultrasound",
    "kub": "plain film",
    "other": "other",
    "none": "no study",
}


def as_text(answer: Answer) -> str:
    """The whole answer as text: what was asked, the rates, comparisons, who was counted, where it comes from."""
    parts = [
        _heading(answer),
        labelled(definition_lines(answer.request)),
        _own_defaults(answer),
        rates_text(answer),
        comparisons_text(answer.comparisons, answer.request),
        _counted(answer),
        _how_decided(answer),
        _seen_by(answer),
        answer.source.in_words(),
        "\n".join(paragraph(caution) for caution in answer.cautions),
    ]
    return "\n\n".join(part for part in parts if part) + "\n"


def _heading(answer: Answer) -> str:
    by = " and ".join(split.column for split in answer.request.by)
    unit = SPOKEN_UNIT[answer.request.definition.unit]
    return f"Stone-free {unit}{f', by {by}' if by else ''}, as of {answer.source.as_of.isoformat()}"


def _own_defaults(answer: Answer) -> str:
    return "\n".join(paragraph(one.in_words() + ".", indent="  ") for one in answer.request.own_defaults)


def _counted(answer: Answer) -> str:
    unit = SPOKEN_UNIT[answer.request.definition.unit]
    lines = ["Who is counted", *("  " + line for line in answer.source.flow_text.splitlines())]
    if answer.whole.empty or not answer.units.units:
        return "\n".join([*lines, "  No " + unit + " in the cohort."])
    counts = answer.whole.iloc[0]
    out = answer.units.units - int(answer.units.inside().sum())
    rows = [[f"Of the {unit} of this cohort", f"{answer.units.units:,}"]]
    first = answer.decided.columns[0]
    rows += [
        [f"  out: {RUNGS[str(rung)]}", f"{count:,}"]
        for rung, count in answer.decided[first].items()
        if str(rung).startswith("out_") and count
    ]
    rows += [
        ["inside the denominator", f"{answer.units.units - out:,}"],
        ["  not due at the as-of date", f"{counts['not_due']:,}"],
        ["  died before a study", f"{counts['died']:,}"],
        ["eligible", f"{counts['eligible']:,}"],
    ]
    return "\n".join([*lines, aligned(rows, left=1)])


def _how_decided(answer: Answer) -> str:
    inside = answer.decided[[not str(rung).startswith("out_") for rung in answer.decided.index]]
    if inside.empty:
        return ""
    words = [one.in_words() for one in answer.units.thresholds]
    rows = [["", *words], *([RUNGS[str(rung)], *(f"{n:,}" for n in counts)] for rung, counts in inside.iterrows())]
    return "How each was decided, the first that fits\n" + aligned(rows, left=1)


def _seen_by(answer: Answer) -> str:
    if answer.whole.empty or not (eligible := int(answer.whole.iloc[0]["eligible"])):
        return ""
    counts = {name: int(answer.whole.iloc[0][f"modality_{name}"]) for name in SEEN_BY}
    shares = [
        f"{SPOKEN_MODALITY[name]} {count:,} ({percent(count / eligible)})" for name, count in counts.items() if count
    ]
    said = [f"Picked studies of the {eligible:,} eligible: {', '.join(shares)}."]
    said.append(f"Units whose picked study has an examination with more than one reading: {answer.several_readings:,}.")
    vague = [f"{count:,} {name}" for name, count in answer.undecided.items() if count]
    if vague:
        said.append(f"Dates too inexact to settle order or window: {', '.join(vague)}.")
    return paragraph(" ".join(said))
