"""The map as sections: every row for JSON and CSV; for people a table a unit and the largest differences."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from analysis.outcomes.thresholds import Threshold, parse_thresholds
from analysis.reports.definition_map.differences import WORDS, Difference, differences_of
from analysis.reports.definition_map.grid import BOUNDED, MODELLED, Combination
from analysis.reports.definition_map.worked import DefinitionMap
from analysis.reports.sections.report import Column, Section
from analysis.reports.stone_free.definition_lines import SPOKEN_UNIT
from analysis.tables.rounding import NOTHING, percent
from analysis.tables.small_numbers import too_few, withheld

HANDLED = {
    "complete": "those known",
    "lower": "unknown all failed",
    "upper": "unknown all free",
    "weighted": "weighted",
    "imputed": "imputed",
}
MARK = "*"
CANNOT = "x"
DIFFERENCE = (
    Column("", "which"),
    Column("definition", "words"),
    Column("n", "n", "count"),
    Column("stone-free", "estimate", "percent"),
    Column("difference", "difference", "points"),
)


def full_sections(made: DefinitionMap) -> list[Section]:
    """Every row with the whole of its definition, then the largest differences."""
    rows = [{name: value for name, value in row.items() if name != "combination"} for row in made.rows]
    return [
        Section(
            name="definition_map",
            title="Definition map",
            rows=rows,
            columns=(),
            definition=_definition(made),
            notes=_notes(made),
        ),
        _differences(made),
    ]


def text_sections(made: DefinitionMap) -> list[Section]:
    """The same for a page: one table a unit, thresholds across."""
    units = dict.fromkeys((row["combination"].unit, row["combination"].sessions) for row in made.rows)
    tables = [_table(made, unit, sessions) for unit, sessions in units]
    first = tables[0]
    notes = _notes(made)
    intro = [
        ("known", "stone-free in per cent of those with a known status (n); leans low where scans are inadequate"),
        ("adequate", "the same of those whose study is adequate at the threshold, or who are decided without one"),
        ("bounds", "of all eligible: from all unknown failed to all unknown free"),
        (MARK, "the definition asked for, which is the unit's own where nothing else was typed"),
        (CANNOT, "no success is possible: no such study can clear a kidney at that threshold; the bounds hold"),
    ]
    tables[0] = Section(
        name=first.name,
        title=f"Definition map\n\n{first.title}",
        rows=first.rows,
        columns=first.columns,
        definition=first.definition,
        in_words=intro,
    )
    last = tables[-1]
    tables[-1] = Section(
        name=last.name,
        title=last.title,
        rows=last.rows,
        columns=last.columns,
        definition=last.definition,
        in_words=last.in_words,
        notes=notes,
    )
    return [*tables, _differences(made)]


def in_order(codes: Iterable[str]) -> list[str]:
    """Different threshold codes, the stricter first."""
    return sorted(set(codes), key=lambda code: parse_thresholds(code)[0].order)


def counted_words(made: DefinitionMap) -> str:
    """How many definitions there are, `270 definitions`, and how many can succeed where not all can."""
    complete = [row for row in made.rows if row["unscanned"] == "complete"]
    can = sum(bool(row["can_succeed"]) for row in complete)
    return f"{len(complete):,} definitions" + ("" if can == len(complete) else f", {can:,} of which can succeed")


def threshold_words(code: str) -> str:
    """`0 mm`, `< 2 mm`, `<= 2 mm`."""
    (threshold,) = parse_thresholds(code)
    return _spoken(threshold)


def in_words(row: Mapping[str, Any]) -> str:
    """A row's definition in one line."""
    sessions = "" if row["sessions"] == "single" else f", {row['sessions']} sessions"
    return (
        f"{threshold_words(str(row['threshold']))}, imaging {row['imaging']}, day {row['window']}, "
        f"{row['unit']}{sessions}, {HANDLED[row['unscanned']]}"
    )


def _spoken(threshold: Threshold) -> str:
    return f"{threshold.comparison} {threshold.value_mm:g} mm" if threshold.value_mm else "0 mm"


def _definition(made: DefinitionMap) -> dict[str, Any]:
    return {
        "asked_for": {**made.own.options(), "unscanned": list(made.request.unscanned)},
        "outside_the_grid": made.outside,
        "not_worked_out": dict(made.left_out),
        "own_default": "the definition asked for, which is the unit's own where nothing was typed",
    }


def _notes(made: DefinitionMap) -> list[str]:
    complete = [row for row in made.rows if row["unscanned"] == "complete"]
    without = [row for row in complete if not row["can_succeed"] and row["eligible"] is not None]
    policies = ", ".join(dict.fromkeys(str(row["imaging"]) for row in without))
    notes = []
    if without:
        notes.append(
            f"Of {counted_words(made)}: under this adequacy table {len(without):,} ({policies}) can show failure and "
            "never success; they are shown with their bounds and left out of the differences."
        )
    refused = list(dict.fromkeys(str(row["reason"]) for row in made.rows if row["eligible"] is None))
    notes += [f"Not possible: {why}" for why in refused]
    if made.outside:
        own = made.own
        notes.append(
            f"The definition asked for (imaging {own.imaging}, day {own.window}, {own.unit}, {own.sessions}) lies "
            "outside the grid and has rows of its own."
        )
    notes += [f"Not shown, {HANDLED[mode]}: {why}" for mode, why in made.left_out.items()]
    notes.append("Of everyone in the cohort; the map is not split by groups.")
    return notes


def _table(made: DefinitionMap, unit: str, sessions: str) -> Section:
    own = [row for row in made.rows if row["combination"].unit == unit and row["combination"].sessions == sessions]
    codes = in_order(str(row["threshold"]) for row in own)
    columns = (
        Column("", "shows"),
        Column("eligible", "eligible", "count"),
        *(Column(threshold_words(code), f"at_{code}") for code in codes),
    )
    each = dict.fromkeys(row["combination"] for row in own)
    rows = [line for one in each for line in _lines(one, own, codes, made.request.small_number)]
    after = "each after its own operation" if sessions == "single" else f"after {sessions} stages"
    return Section(
        name=f"definition_map_{unit}",
        title=f"{SPOKEN_UNIT[unit].capitalize()}, {after}",
        rows=rows,
        columns=columns,
        definition=_definition(made),
    )


def _lines(
    one: Combination, rows: Sequence[Mapping[str, Any]], codes: Sequence[str], small_number: int
) -> list[dict[str, Any]]:
    """The lines of one combination: rate, bounds, n, and what models give where they were asked."""
    cells = {(row["threshold"], row["unscanned"]): row for row in rows if row["combination"] == one}
    eligible = next((row["eligible"] for row in cells.values()), None)
    group = {"day": one.window, "imaging": one.imaging}
    common = {"group": group, "unknown": 0, "n": None, "estimate": None, "low": None, "high": None}

    def line(shows: str, texts: Mapping[str, str]) -> dict[str, Any]:
        return {**common, "shows": shows, "eligible": eligible, **{f"at_{code}": texts[code] for code in codes}}

    complete = {code: cells.get((code, "complete")) for code in codes}
    made = []
    if any(row and row["can_succeed"] and row["failed_inadequate"] for row in complete.values()):
        made.append(line("adequate", {code: _adequate(row, small_number) for code, row in complete.items()}))
    made.append(line("known", {code: _rate(row, small_number) for code, row in complete.items()}))
    made.append(line("bounds", {code: _span(cells, code, small_number) for code in codes}))
    for mode in MODELLED:
        if any((code, mode) in cells for code in codes):
            made.append(line(HANDLED[mode], {code: _rate(cells.get((code, mode)), small_number) for code in codes}))
    return made


def _rate(row: Mapping[str, Any] | None, small_number: int) -> str:
    if row is None or row["estimate"] is None:
        return NOTHING
    if not row["can_succeed"] and row["unscanned"] == "complete":
        return f"{CANNOT} ({row['n']:,})"
    shown = _of(row["estimate"], row["n"], small_number)
    return f"{MARK}{shown}" if row["own_default"] else shown


def _adequate(row: Mapping[str, Any] | None, small_number: int) -> str:
    """The rate among those whose study is adequate, where a study can be."""
    if row is None or row["estimate_adequate"] is None or not row["can_succeed"]:
        return NOTHING
    return _of(row["estimate_adequate"], row["n_adequate"], small_number)


def _of(rate: float, n: int, small_number: int) -> str:
    return f"{withheld(small_number) if too_few(n, small_number) else _short(rate)} ({n:,})"


def _short(value: float) -> str:
    return percent(value).removesuffix(" %")


def _span(cells: Mapping[tuple[str, str], Mapping[str, Any]], code: str, small_number: int) -> str:
    low, high = (cells.get((code, mode)) for mode in BOUNDED[1:])
    if low is None or high is None or low["estimate"] is None or too_few(low["n"], small_number):
        return NOTHING
    return f"[{_short(low['estimate'])}-{_short(high['estimate'])}]"


def _differences(made: DefinitionMap) -> Section:
    rows = []
    for one in differences_of(made):
        rows += [_end(one, "higher"), _end(one, "lower")]
    return Section(
        name="largest_differences",
        title="How much of a difference is definition alone",
        rows=rows,
        columns=DIFFERENCE,
        definition={**_definition(made), "among": "rows with n of at least the small number that can show success"},
        in_words=[
            ("same", "the same patients and the same scans: nothing but the definition differs, so no test is made"),
            (
                "among",
                f"definitions under which success is possible, with n of at least {max(1, made.request.small_number)}; "
                "by threshold, imaging, window or unit alone among those with a known status",
            ),
            ("handling", _handling(made)),
        ],
    )


def _handling(made: DefinitionMap) -> str:
    """Where the difference by handling of the unscanned is looked for."""
    several = len(made.request.definition.thresholds) > 1
    widest = ", at the one of its thresholds where that is widest" if several else ""
    return f"of the unscanned: at the definition asked for alone{widest}"


def _end(one: Difference, which: str) -> dict[str, Any]:
    row = one.high if which == "higher" else one.low
    parts = {name: value for name, value in row.items() if name not in ("combination", "group")}
    return {
        "group": {"differs": WORDS[one.differs]},
        "differs": one.differs,
        "which": which,
        "words": in_words(row),
        "difference": one.size if which == "higher" else None,
        **parts,
    }
