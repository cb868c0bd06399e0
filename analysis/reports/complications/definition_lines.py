"""What the figures on complications were computed under, for JSON and in words."""

from __future__ import annotations

from typing import Any

from analysis.outcomes.complications import index, proposal
from analysis.outcomes.complications.grade_used import GRADES_BY
from analysis.reports.complications.gathered import Gathered
from analysis.reports.complications.not_read import not_read_after_as_of, not_read_notes
from analysis.reports.complications.rates import HANDLED
from analysis.reports.complications.request import DENOMINATORS, Request
from analysis.reports.complications.units import Units

REVIEWED = (
    "a contact or record review whose knowledge of complications reaches that day (its own day unless another is "
    "recorded), or the patient's death in the window"
)
UNITS = {
    "operation": "operation: a complication belongs to its main operation, and to those it is said to have come after "
    "as well",
    "patient": "patient: at the first counted operation of each, with every complication from then on, each once",
}


def definition(request: Request, gathered: Gathered, units: Units) -> dict[str, Any]:
    """All of it, ready for JSON."""
    return {
        "grade": {"id": proposal.RULE, "source": proposal.SOURCE},
        "grades": request.grades,
        "local_choices": {"catheter": request.choices.catheter, "alpha_blocker": request.choices.alpha_blocker},
        "index": {"id": index.INDEX, "source": index.SOURCE, "weights": index.WEIGHTS},
        "unit": request.unit,
        "denominator": request.denominator,
        "days": list(request.days),
        "unreviewed": list(request.unreviewed),
        "reviewed": REVIEWED,
        "interval": request.interval,
        "level": request.level,
        "by": [split.as_dict() for split in request.by],
        "seed": request.seed,
        "replicates": request.replicates,
        "units": len(units),
        "operations_left_out": gathered.left_out,
        "complications_elsewhere": outside(gathered, units),
        "not_read_after_as_of": not_read_after_as_of(gathered, units),
    }


def in_words(request: Request, gathered: Gathered, units: Units) -> list[tuple[str, str]]:
    """The same for people, label and sentence."""
    days = " and ".join(f"day {day}" for day in request.days)
    lines = [
        ("grade", f"{proposal.RULE}, from the therapies given: {proposal.SOURCE}"),
        ("decision", proposal.ORDER),
        ("counted", f"{GRADES_BY[request.grades]}; {request.choices.in_words()}"),
        ("unit", UNITS[request.unit]),
        ("who", f"{DENOMINATORS[request.denominator]}: {len(units):,}; {gathered.left_out:,} operations left out"),
        ("window", f"from the operation (day 0) to {days}, both in; an onset known to the month is an interval"),
        ("reviewed", REVIEWED),
        ("unreviewed", "; ".join(HANDLED[mode] for mode in request.unreviewed)),
        ("interval", f"{100 * request.level:g} %, {request.interval}; by patient: Wilson at the effective size"),
    ]
    if lost := outside(gathered, units):
        lines.insert(4, ("not in it", f"{lost:,} complications of these patients that belong to no counted operation"))
    if "grades" not in request.show:  # that section says it in its notes
        lines += [("not read", note) for note in not_read_notes(not_read_after_as_of(gathered, units), gathered.as_of)]
    if gathered.two_sided and request.by:
        lines.append(
            ("two sides", f"{gathered.two_sided:,} operations stand by their first side, and by the tightest for fit")
        )
    return lines


def outside(gathered: Gathered, units: Units) -> int:
    """Complications of the cohort's patients that belong to no counted unit, though something is graded in them."""
    own = set(gathered.operations["patient_id"])
    graded = gathered.events[(gathered.events["high"] > 0) & gathered.events["patient_id"].isin(own)]
    return int((~graded["complication_id"].isin(units.events["complication_id"])).sum())
