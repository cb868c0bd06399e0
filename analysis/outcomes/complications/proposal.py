"""The grade that follows from the therapies given: the rule `cd-therapy-1`.

Dindo D, Demartines N, Clavien PA, Ann Surg 2004;240:205-213; Clavien PA et al., Ann Surg 2009;250:187-196. The first
that fits: death of the complication, V; organ support, or intensive or intermediate care for failing organs, IVb for
two or more, else IVa; an intervention under general anaesthesia IIIb, else IIIa; a drug off the list of grade I, blood
or parenteral nutrition, II; any other deviation, I.

What is missing or contradicts itself is read in every way that it can be. When all ways lead to one grade, that is the
grade; when they do not, there is none: never a lower one.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.outcomes.complications.event import Event, Given, Proposal
from analysis.outcomes.complications.therapy_levels import (
    CARE,
    GRADES,
    II,
    IIIA,
    IIIB,
    INFECTIONS,
    IVA,
    IVB,
    SUPPORT,
    I,
    LocalChoices,
    V,
    drug_level,
    is_intervention,
)
from registry.schema.lists_outcome import ComplicationKind, TherapyAnaesthesia, TherapyKind

RULE = "cd-therapy-1"
ORDER = (
    "the first that fits: death of the complication V; dialysis, ventilation, or intensive or intermediate care for "
    "failing organs IVb with two or more, else IVa; an intervention IIIb under general anaesthesia, else IIIa; a drug "
    "that grade I does not allow, transfusion or parenteral nutrition II; any other deviation I"
)
"""The published decision, in words."""
SOURCE = (
    "Dindo D, Demartines N, Clavien PA, Ann Surg 2004;240:205-213; Clavien PA et al., Ann Surg 2009;250:187-196; what "
    "counts as no complication, and the suffix d, by the same texts"
)
DEATH_DAYS = 90
"""Up to so many days after the onset a death asks whether it was of the complication (house rule)."""

FIRED = {
    V: "death of the complication",
    IVB: "two or more organs failing, looked after in intensive or intermediate care or supported",
    IVA: "one organ failing, looked after in intensive or intermediate care or supported",
    IIIB: "an intervention under general anaesthesia",
    IIIA: "an intervention not under general anaesthesia",
    II: "a drug that grade I does not allow, blood, or parenteral nutrition",
    I: "a deviation with no more than what grade I allows",
}
UNDER = {TherapyAnaesthesia.GENERAL, TherapyAnaesthesia.REGIONAL}


@dataclass
class _Reading:
    """What is found on the way: remarks, and the grade numbers that stay possible."""

    possible: set[int] = field(default_factory=lambda: {I})
    missing: list[str] = field(default_factory=list)
    flags: list[str] = field(default_factory=list)
    contradictions: list[str] = field(default_factory=list)

    def at_least(self, levels: set[int]) -> None:
        """Each way of reading what stands already, together with each way of reading one therapy more."""
        self.possible = {max(one, other) for one in self.possible for other in levels}


def propose(event: Event, choices: LocalChoices | None = None) -> Proposal:
    """The grade that the rule proposes for one complication, with how it came to it.

    Missing inputs are named: `therapies` (no row, not even observation), `anaesthesia of ...`, `organs failing`,
    `died of it`. Contradictions are named case by case.
    """
    choices = choices or LocalChoices()
    found = _Reading()
    kept = [one for one in event.therapies if _is_therapy(one)]
    _remarks(event, kept, choices, found)
    if _is_none(event, kept):
        return Proposal("no complication", (), _why_none(event), flags=tuple(found.flags))
    for one in kept:
        found.at_least(_levels(one, choices, found))
    _organs(event, kept, found)
    _observation(event, kept, found)
    _prophylaxis(event, kept, found)
    if not event.therapies:
        found.missing.append("therapies")
        found.possible |= set(range(I, V))
    _death(event, found)
    return _concluded(event, kept, choices, found)


def _is_therapy(one: Given) -> bool:
    """Neither observation, nor prophylaxis without infection, nor a step of the course as planned."""
    return not one.planned and one.what not in (TherapyKind.NONE, TherapyKind.PROLONGED_PROPHYLAXIS)


def _is_none(event: Event, kept: list[Given]) -> bool:
    """Nothing happened but planned steps or prolonged prophylaxis: an event of no kind, without a therapy."""
    observed = any(one.what == TherapyKind.NONE and not one.planned for one in event.therapies)
    nothing = bool(event.therapies) and not kept and not observed
    return nothing and event.what == ComplicationKind.OTHER and not event.died_of_it and not event.organs_failing


def _why_none(event: Event) -> str:
    if any(one.planned for one in event.therapies):
        return "a planned step of the course is no complication"
    return "prolonged prophylaxis without infection is no complication"


def _remarks(event: Event, kept: list[Given], choices: LocalChoices, found: _Reading) -> None:
    planned = {one.planned for one in event.therapies if one.planned}
    if "planned_stage" in planned:
        found.flags.append("a planned stage of the course is no therapy of a complication")
    if "planned_removal" in planned:
        found.flags.append("a stent removed as planned is no therapy of a complication")
    whats = {one.what for one in kept}
    if TherapyKind.URETHRAL_CATHETER in whats:
        found.flags.append(f"catheter, grade {choices.catheter} by local choice")
    if TherapyKind.ALPHA_BLOCKER in whats:
        found.flags.append(f"alpha-blocker, grade {choices.alpha_blocker} by local choice")


def _levels(one: Given, choices: LocalChoices, found: _Reading) -> set[int]:
    """The grade numbers that one therapy can stand for; care and support are judged by the organs."""
    label = TherapyKind(one.what).label
    if is_intervention(one.what, choices):
        # What the therapy leaves open may stand with the operation that it was.
        under = {said for said in (one.anaesthesia, one.operated_under) if said is not None}
        if not under and one.what != TherapyKind.URETHRAL_CATHETER:
            found.missing.append(f"anaesthesia of: {label}")
            return {IIIA, IIIB}
        levels = {IIIB if said == TherapyAnaesthesia.GENERAL else IIIA for said in under} or {IIIA}
        if len(levels) > 1:
            found.contradictions.append(
                f"{one.anaesthesia} anaesthesia for: {label}, and {one.operated_under} in its operation's own record"
            )
        return levels
    if one.what in CARE or one.what in SUPPORT:
        return {I}
    own = drug_level(one.what, choices)
    if one.anaesthesia in UNDER:
        found.contradictions.append(f"{one.anaesthesia} anaesthesia for what needs none: {label}")
        return {own, IIIB if one.anaesthesia == TherapyAnaesthesia.GENERAL else IIIA}
    return {own}


def _organs(event: Event, kept: list[Given], found: _Reading) -> None:
    """Organ support, and intensive or intermediate care for failing organs."""
    whats = {one.what for one in kept}
    support, care = bool(whats & SUPPORT), bool(whats & CARE)
    pressor, organs = TherapyKind.VASOPRESSOR in whats, event.organs_failing
    if not (support or care or (pressor and organs != 0)):
        if organs:
            found.flags.append("organs failing without organ support or intensive care: graded by therapy")
        return
    if organs is None:
        found.missing.append("organs failing")
        # A supported organ has failed; a stay alone may have been for observation, a drug alone just a drug.
        found.at_least({IVA, IVB} if support or (pressor and care) else {I, IVA, IVB})
    elif organs >= 1:
        found.at_least({IVB if organs >= 2 else IVA})
    elif support or (pressor and care):
        what = "dialysis or ventilation" if support else "a vasopressor in intensive or intermediate care"
        found.contradictions.append(f"{what}, and no organ failing")
        found.at_least({I, IVA})
    else:
        found.flags.append("intensive or intermediate care for observation only: graded by therapy")


def _observation(event: Event, kept: list[Given], found: _Reading) -> None:
    if kept and any(one.what == TherapyKind.NONE for one in event.therapies):
        found.contradictions.append("observation only, beside another therapy")
        found.possible.add(I)


def _prophylaxis(event: Event, kept: list[Given], found: _Reading) -> None:
    if not any(one.what == TherapyKind.PROLONGED_PROPHYLAXIS for one in event.therapies):
        return
    if event.what in INFECTIONS and not any(one.what == TherapyKind.ANTIBIOTIC for one in kept):
        found.contradictions.append("prophylaxis prolonged without infection, and the event is an infection")
        found.at_least({I, II})
    else:
        found.flags.append("prolonged prophylaxis without infection is no therapy of a complication")


def _death(event: Event, found: _Reading) -> None:
    if event.died_of_it and event.death in ("near", "later"):
        found.possible = {V}
        found.missing.clear()
    elif event.died_of_it:
        found.contradictions.append(
            "died of it, and the patient has no date of death"
            if event.death == "none"
            else "died of it, and the death lies before the onset"
        )
        found.possible.add(V)
    elif event.died_of_it is None and event.death == "near":
        found.missing.append("died of it")
        found.possible.add(V)


def _concluded(event: Event, kept: list[Given], choices: LocalChoices, found: _Reading) -> Proposal:
    possible = tuple(sorted(found.possible))
    top = possible[-1]
    remarks = {
        "suffix_d": False if possible == (V,) else event.present_at_discharge,
        "missing": tuple(dict.fromkeys(found.missing)),
        "flags": tuple(dict.fromkeys(found.flags)),
        "contradictions": tuple(dict.fromkeys(found.contradictions)),
    }
    if len(possible) == 1:
        remarks["missing"] = ()  # whatever it was, the grade would be the same
        return Proposal("graded", possible, FIRED[top], _deciding(top, kept, choices), **remarks)  # type: ignore[arg-type]
    between = f"open between {', '.join(GRADES[number - 1] for number in possible)}"
    return Proposal("not computable", possible, between, **remarks)  # type: ignore[arg-type]


def _deciding(grade: int, kept: list[Given], choices: LocalChoices) -> str:
    """The therapy that the grade follows from; of several the first."""
    if grade == V:
        return ""
    if grade >= IVA:
        order = (*sorted(SUPPORT), TherapyKind.INTENSIVE_CARE, TherapyKind.INTERMEDIATE_CARE, TherapyKind.VASOPRESSOR)
        return next(what for what in order if any(one.what == what for one in kept))
    silent = _Reading()
    for one in kept:
        if one.what not in CARE and one.what not in SUPPORT and grade in _levels(one, choices, silent):
            return one.what
    return kept[0].what if kept else TherapyKind.NONE
