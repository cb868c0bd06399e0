"""Complications graded by hand: Dindo, Demartines, Clavien, Ann Surg 2004;240:205-213; Clavien et al., Ann Surg 2009.

First that fits: death of it V; dialysis, or intensive or intermediate care for failing organs IVa, two or more IVb; an
intervention under general anaesthesia IIIb, else IIIa; a drug off the list of grade I, blood, parenteral nutrition II;
else I. A missing input gives no grade, never a lower one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tests.golden.outcomes.story_book import Book, Operation, Person, day

NONE, OPEN = "no complication", "not computable"
Event = tuple[str, tuple[object, ...], dict[str, object]]


@dataclass(frozen=True)
class GradeCase:
    """grade: a grade, `no complication`, or for what cannot be graded the worst span, such as `IIIa to IIIb`.

    said: words that the list of cases has to hold, by column. options: what the command is asked with.
    """

    ref: str
    why: str
    event: Event
    grade: str
    said: tuple[tuple[str, str], ...] = ()
    died: int | None = None
    options: tuple[tuple[str, str], ...] = ()


def event(what: str, *therapies: object, onset: object = 5, **values: object) -> Event:
    return what, (onset, *therapies), values


def case(
    ref: str,
    grade: str,
    why: str,
    told: Event,
    *,
    died: int | None = None,
    options: tuple[tuple[str, str], ...] = (),
    **said: str,
) -> GradeCase:
    return GradeCase(ref, why, told, grade, tuple(said.items()), died, options)


BY_THERAPY = (
    case("antipyretic", "I", "an antipyretic is allowed", event("fever", "antipyretic")),
    case("stent-pain", "I", "an analgesic is allowed", event("stent_symptoms", "analgesic")),
    case("observed", "I", "any deviation, nothing done", event("bleeding", "none")),
    case("kidney-fluids", "I", "fluids alone are I", event("acute_kidney_injury", "fluids")),
    case("wound", "I", "a wound opened at the bedside is I", event("wound", "bedside_wound")),
    case("five-allowed", "I", "all allowed", event("fever", "antiemetic", "diuretic", "physiotherapy", "fluids")),
    case("antibiotic", "II", "a therapeutic antibiotic is II", event("febrile_urinary_infection", "antibiotic")),
    case("transfused", "II", "blood is II", event("bleeding", "transfusion")),
    case("fed", "II", "parenteral nutrition is II", event("other", "parenteral_nutrition")),
    case("thrombosis", "II", "an anticoagulant is II", event("thrombosis", "anticoagulant")),
    case("infarct", "II", "a heart attack treated by drugs is II", event("cardiac", "other_drug")),
    case("highest-wins", "II", "of allowed and not allowed the latter", event("fever", "antipyretic", "antibiotic")),
    case("alpha", "II", "an alpha-blocker is off the list", event("stent_symptoms", "alpha_blocker")),
    case(
        "alpha-local",
        "I",
        "unless the unit says so",
        event("stent_symptoms", "alpha_blocker"),
        options=(("alpha-blocker", "I"),),
    ),
    case("catheter", "I", "on the ward often put at I", event("urinary_retention", "urethral_catheter")),
    case(
        "catheter-II", "II", "some II", event("urinary_retention", "urethral_catheter"), options=(("catheter", "II"),)
    ),
    case(
        "catheter-IIIa",
        "IIIa",
        "some IIIa",
        event("urinary_retention", "urethral_catheter"),
        options=(("catheter", "IIIa"),),
    ),
)

BY_INTERVENTION = (
    case("spinal", "IIIa", "spinal is not general", event("obstruction", ("stent_placed", "regional"))),
    case("sedation", "IIIa", "nor is sedation", event("obstruction", ("nephrostomy_placed", "sedation"))),
    case("embolised", "IIIa", "under local", event("bleeding", "transfusion", ("embolisation", "local"))),
    case("no-anaesthesia", "IIIa", "said to be none", event("clot_retention", ("clot_evacuation", "none"))),
    case("stent-ga", "IIIb", "general", event("obstruction", ("stent_placed", "general"))),
    case("steinstrasse", "IIIb", "ureteroscopy again", event("steinstrasse", ("ureteroscopy", "general"))),
    case(
        "unsaid",
        "IIIa to IIIb",
        "anaesthesia not recorded: no grade",
        event("obstruction", ("stent_placed", None)),
        missing="anaesthesia of: Stent placed or changed",
    ),
    case(
        "unsaid-settled",
        "IIIb",
        "whatever it was, the other was under general",
        event("obstruction", ("stent_placed", None), ("ureteroscopy", "general")),
    ),
    case("local-and-general", "IIIb", "higher", event("urinoma", ("drainage", "local"), ("laparoscopy", "general"))),
)

BY_ORGANS = (
    case(
        "icu-watch",
        "I",
        "a stay to watch is graded by therapy, flagged",
        event("fever", "intensive_care"),
        flags="observ",
    ),
    case("icu-watch-drug", "II", "and by the drug", event("sepsis", "intensive_care", "antibiotic"), flags="observ"),
    case("imc-one", "IVa", "intermediate care, one organ", event("sepsis", "intermediate_care", organs_failing=1)),
    case("icu-two", "IVb", "two organs", event("septic_shock", "intensive_care", "vasopressor", organs_failing=2)),
    case("icu-three", "IVb", "three are two or more", event("septic_shock", "intensive_care", organs_failing=3)),
    case("dialysis", "IVa", "dialysis is single-organ", event("acute_kidney_injury", "dialysis", organs_failing=1)),
    case("dialysis-two", "IVb", "with a second organ", event("sepsis", "dialysis", organs_failing=2)),
    case(
        "dialysis-unsaid",
        "IVa to IVb",
        "one for certain, a second perhaps",
        event("sepsis", "dialysis", organs_failing=None),
        missing="organs failing",
    ),
    case(
        "icu-unsaid",
        "II to IVb",
        "watched or failing, nobody said",
        event("sepsis", "intensive_care", "antibiotic", organs_failing=None),
        missing="organs failing",
    ),
    case(
        "pressor-unsaid",
        "II to IVb",
        "a pressor on the ward, organs not recorded: the rule grades one failing organ IVa, so this is open",
        event("sepsis", "vasopressor", organs_failing=None),
        missing="organs failing",
    ),
    case(
        "icu-over-ga",
        "IVa",
        "organs before anaesthesia",
        event("sepsis", ("stent_placed", "general"), "intensive_care", organs_failing=1),
    ),
)

BY_DEATH = (
    case("died-of-it", "V", "death of the complication", event("sepsis", "intensive_care", died_of_it="yes"), died=12),
    case("died-otherwise", "II", "death of another cause is not V", event("sepsis", "antibiotic"), died=12),
    case(
        "died-unsaid",
        "II to V",
        "died a week later, of what nobody said",
        event("sepsis", "antibiotic", died_of_it=None),
        died=12,
        missing="died of it",
    ),
    case(
        "died-unsaid-years",
        "II",
        "a death 91 days after the onset does not ask",
        event("sepsis", "antibiotic", died_of_it=None),
        died=96 + 1,
    ),
    case(
        "no-suffix-dead",
        "V",
        "no disability beside death",
        event("sepsis", "antibiotic", died_of_it="yes", present_at_discharge="yes"),
        died=12,
        used_suffix_d="no",
    ),
    case(
        "suffix-d",
        "IIIa",
        "still there at discharge",
        event("obstruction", ("nephrostomy_placed", "local"), present_at_discharge="yes"),
        used_suffix_d="yes",
    ),
    case(
        "suffix-unsaid",
        "II",
        "not recorded is neither",
        event("sepsis", "antibiotic", present_at_discharge=None),
        used_suffix_d="",
    ),
)

NOT_RECORDED = (
    case(
        "no-therapy-row", "I to IVb", "nothing recorded is not nothing done", event("obstruction"), missing="therapies"
    ),
    case(
        "prophylaxis", NONE, "prolonged prophylaxis without infection is none", event("other", "prolonged_prophylaxis")
    ),
    case(
        "prophylaxis-infected",
        "I to II",
        "and an infection contradicts it",
        event("urinary_infection", "prolonged_prophylaxis"),
        contradictions="infection",
    ),
    case(
        "dialysis-no-organ",
        "I to IVa",
        "dialysis and no organ failing cannot both be",
        event("acute_kidney_injury", "dialysis"),
        contradictions="no organ failing",
    ),
    case(
        "died-undated",
        "II to V",
        "died of it, and no date of death",
        event("sepsis", "antibiotic", died_of_it="yes"),
        contradictions="no date of death",
    ),
    case(
        "drug-under-general",
        "II to IIIb",
        "an antibiotic needs no anaesthesia",
        event("sepsis", ("antibiotic", "general")),
        contradictions="anaesthesia for what needs none",
    ),
    case(
        "watched-and-treated",
        "I to II",
        "observation only contradicts an antibiotic",
        event("sepsis", "none", "antibiotic"),
        contradictions="observation only",
    ),
)

CASES = (*BY_THERAPY, *BY_INTERVENTION, *BY_ORGANS, *BY_DEATH, *NOT_RECORDED)


def write(book: Book) -> None:
    """Every case as a patient of its own; the operation of each is on day 0."""
    for one in CASES:
        died = None if one.died is None else day(one.died)
        made = book.person(f"grade {one.ref}", died_on=died).operation()
        what, (onset, *therapies), values = one.event
        made.complication(what, onset, *therapies, **values)
    for name, tell in STORIES.items():
        tell(book.person(name))


def _planned_stage(person: Person) -> None:
    """A stage decided on day 0 and done on day 40 is no therapy, whatever anaesthesia it was given under."""
    first = person.operation()
    person.planned_stage(1, day(0))
    second = person.operation(day(40), stage=1)
    first.complication("other", 10, ("ureteroscopy", "general", treated_in(second)))


def _planned_stage_obstructed(person: Person) -> None:
    """The colic before it is a deviation, and all the same not IIIb."""
    first = person.operation()
    person.planned_stage(1, day(0))
    second = person.operation(day(40), stage=1)
    first.complication("colic", 10, "analgesic", ("ureteroscopy", "general", treated_in(second)))


def _unplanned_again(person: Person) -> None:
    """A second ureteroscopy that nobody had planned is IIIb."""
    first = person.operation()
    second = person.operation(day(20), side={"stage_number": None, "course_number": None})
    first.complication("steinstrasse", 18, ("ureteroscopy", "general", treated_in(second)))


def _anaesthesia_of_the_operation(person: Person) -> None:
    """The therapy was an operation here, and the operation's own record says general: IIIb, nothing is missing."""
    first = person.operation()
    second = person.operation(day(20), anaesthesia="general", side={"stage_number": None, "course_number": None})
    first.complication("steinstrasse", 18, ("ureteroscopy", None, treated_in(second)))


def _anaesthesia_contradicted(person: Person) -> None:
    """Local by the therapy, general by the operation that it was: IIIa or IIIb, and named."""
    first = person.operation()
    second = person.operation(day(20), anaesthesia="general", side={"stage_number": None, "course_number": None})
    first.complication("steinstrasse", 18, ("ureteroscopy", "local", treated_in(second)))


def _stent_out_as_planned(person: Person) -> None:
    """Taken out on the day planned, no new one: part of the normal course."""
    first = person.operation()
    removal = person.operation(day(21), purpose="stent")
    person.book.add(
        "drain",
        person.key,
        {"unit": "left", "unit_number": 1},
        {"placed_on": day(0), "kind": "stent", "planned_removal_on": day(21), "removed_on": day(21)},
        removed_where="theatre",
        changed="no",
    )
    first.complication("other", 21, ("other_intervention", "general", treated_in(removal)))


def _overruled(person: Person) -> None:
    """The rule says IIIb, the first grader IIIa with a reason: both are kept."""
    made = person.operation().complication("obstruction", 5, ("stent_placed", "general"))
    made.graded("first", "IIIa", reason="no anaesthetist was there")


def _agreed(person: Person) -> None:
    """First IIIb, second I, agreed II: the agreed one counts."""
    made = person.operation().complication("obstruction", 5, ("stent_placed", "general"))
    made.graded("first", "IIIb").graded("second", "I").graded("agreed", "II", reason="the letter says so")


def treated_in(operation: Operation) -> dict[str, object]:
    return {"treating_operation.operated_on": operation.on, "treating_operation.day_number": 1}


STORIES: dict[str, Callable[[Person], None]] = {
    "planned-stage": _planned_stage,
    "planned-stage-obstructed": _planned_stage_obstructed,
    "unplanned-again": _unplanned_again,
    "anaesthesia-of-the-operation": _anaesthesia_of_the_operation,
    "anaesthesia-contradicted": _anaesthesia_contradicted,
    "stent-out": _stent_out_as_planned,
    "overruled": _overruled,
    "agreed": _agreed,
}
