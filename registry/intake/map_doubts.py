"""What the columns say about one another: two for one field, dates in the wrong order, records that lack their key."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from statistics import median

from registry.intake.log_mapping_targets import CONTEXT, of_side, parents_of, sheet_of
from registry.intake.map_family import SEEN_AFTER
from registry.intake.map_proposal import Proposal

_MOST_ODD = 0.05
_LEAST_AGE_YEARS, _LONGEST_LOG_YEARS = 5, 60
# What is known of two dates in a row: the first is not after the second.
ORDER = (
    ("patient_identity.birth_date", "operation.operated_on"),
    ("stone.measured_on", "operation.operated_on"),
    ("operation.operated_on", "examination.examined_on"),
    ("operation.operated_on", "admission.discharged_on"),
    ("operation.operated_on", "drain.removed_on"),
    ("admission.admitted_on", "operation.operated_on"),
    ("admission.admitted_on", "admission.discharged_on"),
    ("operation.operated_on", "complication.onset_on"),
    ("operation.operated_on", "patient.died_on"),
)
SMALLER = (
    ("equipment_model.inner_tenths_fr", "equipment_model.outer_tenths_fr"),
    ("stone.width_mm", "stone.length_mm"),
)


def weigh_together(proposals: list[Proposal], today: date) -> None:
    """Leave to a person what the columns contradict or leave incomplete.

    Args:
        proposals: one a column; changed in place.
        today: the last day on which something can have happened.
    """
    _name_groups(proposals)
    _twice(proposals)
    _dates(proposals, today)
    _smaller(proposals)
    _of_which_side(proposals)
    while _incomplete(proposals):
        pass


def _name_groups(proposals: list[Proposal]) -> None:
    """Give the columns of one examination one group."""
    seen = [p for p in proposals if p.table in SEEN_AFTER]
    for period in {p.family.period for p in seen}:
        those = [p for p in seen if p.family.period == period]
        modalities = {p.family.group for p in those if p.family.group and not p.family.group.isdigit()}
        for p in those:
            if p.table == "fragment" and p.made.heading.number:
                continue
            own = p.family.group or (next(iter(modalities)) if len(modalities) == 1 else "followup")
            if not p.family.group and len(modalities) > 1 and p.proposed:
                p.doubt("the heading does not say of which examination")
            p.family.group = f"{own} {period}".strip()


def _twice(proposals: list[Proposal]) -> None:
    claims: dict[tuple[str, str, str], list[Proposal]] = defaultdict(list)
    for p in proposals:
        if p.proposed:
            for name in p.to:
                claims[name, p.family.group, p.family.side].append(p)
    for (name, _, _), those in claims.items():
        for p in those if len(those) > 1 else ():
            others = ", ".join(q.made.letter for q in those if q is not p)
            p.doubt(f"column {others} would be {name} as well")


def _find(proposals: list[Proposal], name: str) -> list[Proposal]:
    return [p for p in proposals if p.proposed and p.to == (name,) and p.settings.get("status") is None]


def _dates(proposals: list[Proposal], today: date) -> None:
    for first, second in ORDER:
        for early in _find(proposals, first):
            for late in _find(proposals, second):
                _in_order(early, late)
    for p in _find(proposals, "patient_identity.birth_date"):
        days = sorted(p.evidence.days.values())
        if days and (today - days[len(days) // 2]).days < _LEAST_AGE_YEARS * 365:
            p.doubt("most of the dates are too recent for dates of birth")
    for p in _find(proposals, "operation.operated_on"):
        days = sorted(p.evidence.days.values())
        if len(days) > 4 and (days[-1] - days[len(days) // 10]).days > _LONGEST_LOG_YEARS * 365:
            p.doubt("the dates lie too far apart for the dates of operations")


def _in_order(early: Proposal, late: Proposal) -> None:
    both = [at for at in early.evidence.days if at in late.evidence.days]
    wrong = [at for at in both if early.evidence.days[at] > late.evidence.days[at]]
    if not both:
        return
    if len(wrong) > max(1, _MOST_ODD * len(both)):
        why = f"in {len(wrong)} of {len(both)} rows {early.to[0]} would lie after {late.to[0]}"
        early.doubt(why)
        late.doubt(why)
    else:
        late.reasons.append(f"not before {early.to[0]} in {len(both) - len(wrong)} of {len(both)} rows")
    if early.to[0] == "patient_identity.birth_date":
        ages = [(late.evidence.days[at] - early.evidence.days[at]).days / 365.25 for at in both]
        if median(ages) < _LEAST_AGE_YEARS:
            early.doubt("most patients would be younger than five years at the operation")
            late.doubt("most patients would be younger than five years at the operation")


def _sided(table: str) -> bool:
    """A row of the table, or its use, belongs to one kidney."""
    return of_side(table) or table == "equipment_model"


def _of_which_side(proposals: list[Proposal]) -> None:
    """In a row with both kidneys, a column of one kidney has to say of which."""
    sides: dict[str, set[int]] = {"left": set(), "right": set()}
    for p in proposals:
        if p.proposed and p.family.side:
            sides[p.family.side].update(p.made.filled)
    both = sides["left"] & sides["right"]
    if not both or _find(proposals, "renal_unit.unit"):
        return
    for p in proposals:
        if p.proposed and not p.family.side and any(_sided(name.partition(".")[0]) for name in p.to):
            p.doubt(f"{len(both)} rows speak of both kidneys, and the heading does not say of which this is")


def _smaller(proposals: list[Proposal]) -> None:
    for low_name, high_name in SMALLER:
        for low in _find(proposals, low_name):
            for high in _find(proposals, high_name):
                if low.family.group != high.family.group:
                    continue
                both = [at for at in low.evidence.numbers if at in high.evidence.numbers]
                wrong = [at for at in both if low.evidence.numbers[at] > high.evidence.numbers[at]]
                if len(wrong) > max(1, 2 * _MOST_ODD * len(both)):
                    why = f"in {len(wrong)} of {len(both)} rows {low_name} would be larger than {high_name}"
                    low.doubt(why)
                    high.doubt(why)


def _incomplete(proposals: list[Proposal]) -> bool:
    """Leave what cannot be kept because nothing names its record; true while there is something new to leave."""
    there = {(name, p.family.group) for p in proposals if p.proposed for name in p.to}
    there |= {(name, p.family.group) for p in proposals if p.proposed for name in p.family.constants}
    changed = False
    for p in proposals:
        if not p.proposed:
            continue
        for name in [n for table in {t.partition(".")[0] for t in p.to} for n in needed(table)]:
            group = "" if name.partition(".")[0] in ("operation",) else p.family.group
            if (name, group) not in there and p.proposed:
                p.doubt(f"it needs {name}, and no column is surely that")
                changed = True
    return changed


def needed(table: str) -> list[str]:
    """The fields without which a record of a table cannot be kept, its parents' included."""
    if table == "operator":
        return ["operation_operator.operator"]  # a log names the person at the operation
    own = [] if table in (*CONTEXT, "hospital_number", "patient_identity") else _required(table)
    return own + [name for parent in parents_of(table) for name in needed(parent)]


def _required(table: str) -> list[str]:
    """Fields of a table that are always needed; a model's code is written from its dimensions."""
    return [
        f"{table}.{column.heading}"
        for column in sheet_of(table).columns
        if not column.links and column.info.required and column.info.default is None and not column.folded
        if (table, column.heading) != ("equipment_model", "model_code")
    ]
