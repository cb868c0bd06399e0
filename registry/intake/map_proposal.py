"""What is proposed for each column of a log."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from registry.intake.map_candidates import Named, named
from registry.intake.map_evidence import Evidence, evidence
from registry.intake.map_family import Family, family
from registry.intake.map_names import targets
from registry.intake.map_profile import Profile, counts_rows
from registry.intake.map_splits import Split, find_split
from registry.intake.map_status import is_status, status_evidence

SURE, LIKELY, PERHAPS = 0.9, 0.8, 0.5
_DOUBTED, _BY_VALUES, _CLOSE = 0.7, 0.5, 0.12
_FEW, _FEW_SURE = 5, 0.85
_FEW_UNUSUAL = 0.1
_STATUS = 0.95
# Lists whose codes are told by themselves where a heading says nothing.
_TELLING = ("patient.sex", "renal_unit.unit", "treated_side.technique", "stone.location", "operation.anaesthesia")


@dataclass
class Proposal:
    """What is proposed for one column.

    Attributes:
        made: the column.
        to: the field, or the fields of a cell that is split; empty where nothing fits.
        sureness: 0 to 1; at ``LIKELY`` and above it stands in the mapping, below it is left to a person.
        reasons: why.
        doubts: what keeps it from being sure.
        settings: what the mapping says about reading the column.
        others: further fields that it may be.
        family: the group, the side and the constants that go with it.
        evidence: what the values say.
    """

    made: Profile
    to: tuple[str, ...] = ()
    sureness: float = 0.0
    reasons: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    settings: dict[str, Any] = field(default_factory=dict)
    others: list[str] = field(default_factory=list)
    family: Family = field(default_factory=Family)
    evidence: Evidence = field(default_factory=Evidence)

    @property
    def proposed(self) -> bool:
        """It stands in the mapping; else it is left to a person."""
        return bool(self.to) and self.sureness >= LIKELY

    @property
    def table(self) -> str:
        """The table of the field."""
        return self.to[0].partition(".")[0] if self.to else ""

    @property
    def words(self) -> str:
        """The sureness in a word."""
        if not self.to or self.sureness < PERHAPS:
            return "cannot tell"
        return "sure" if self.sureness >= SURE else "likely" if self.sureness >= LIKELY else "perhaps"

    def doubt(self, why: str) -> None:
        """Leave it to a person."""
        self.doubts.append(why)
        self.sureness = min(self.sureness, _DOUBTED)


def propose(made: Profile, today: date) -> Proposal:
    """Propose what a column holds, by its heading and its values.

    Args:
        made: the column.
        today: the last day on which something can have happened.
    """
    if is_status(made):
        return _status(made)
    weighed = sorted(
        ((_weighed(n, e), n, e) for n in named(made.heading) for e in [evidence(n.target, made, today)]),
        key=lambda w: -w[0],
    )
    best = _best(made, weighed)
    if best.sureness < LIKELY and made.filled and (split := find_split(made)) is not None:
        return _split(made, split, best)
    if not best.to and made.filled:
        return _by_values(made, today)
    return best


def _weighed(name: Named, found: Evidence) -> float:
    share = 1.0 if found.share >= 0.95 else found.share
    value = name.worth * share if found.informs or not found.share else name.worth * 0.95
    return min(value, _DOUBTED) if found.doubts else value


def _best(made: Profile, weighed: list[tuple[float, Named, Evidence]]) -> Proposal:
    if not weighed:
        return Proposal(made, reasons=["the heading names no field"])
    sureness, name, found = weighed[0]
    best = Proposal(
        made,
        (name.target.name,),
        min(sureness, _FEW_SURE) if len(made.filled) < _FEW else sureness,
        [name.why, *found.reasons],
        list(found.doubts),
        dict(found.settings),
        [n.target.name for _, n, _ in weighed[1:]],
        family(name.target.name, made.heading),
        found,
    )
    if len(weighed) > 1 and sureness - weighed[1][0] < _CLOSE and sureness >= LIKELY:
        best.doubt(f"it may as well be {weighed[1][1].target.name}")
    if made.heading.number is None and made.heading.letter and not best.family.side:
        best.doubt(f"the letter {made.heading.letter.upper()} in the heading may be a side")
    if name.target.table == "operation_operator" and made.heading.number is not None:
        best.doubt("a number does not say who operated and who assisted")
    return best


def _status(made: Profile) -> Proposal:
    found = status_evidence(made)
    worth = _STATUS * (1.0 if found.share >= 0.95 else found.share)
    status = Proposal(
        made, ("reading.finding",), worth, [f"the heading says '{' '.join(made.heading.text.split())}'", *found.reasons]
    )
    status.settings, status.evidence, status.family = found.settings, found, family("reading.finding", made.heading)
    for why in found.doubts:
        status.doubt(why)
    return status


def _split(made: Profile, split: Split, single: Proposal) -> Proposal:
    names = list(dict.fromkeys(t for p in split.patterns for t in _fields(p)))
    sides = "renal_unit.unit" in names and bool(split.separator)
    proposal = Proposal(made, tuple(names), min(0.92, split.share), [_fits(made, split)], others=list(single.to))
    proposal.family = family(names[0], made.heading)
    proposal.settings = {"splits": split.patterns}
    if split.separator:
        proposal.settings["separator"] = split.separator
    proposal.settings |= {f"values.{name}": values for name, values in split.values.items()}
    if sides:
        proposal.doubt("the side is said once for several entries")
    if split.unusual:
        why = f"numbers that are not usual there: {made.places(split.unusual)}"
        if len(split.unusual) > _FEW_UNUSUAL * len(made.filled):
            proposal.doubt(why)
        else:
            proposal.reasons.append(why)
    if made.heading.after or made.heading.words & {"residual", "fragment"}:
        proposal.doubt("the heading speaks of what was left, not of the stone before")
    return proposal


def _fits(made: Profile, split: Split) -> str:
    several = f", entries apart by '{split.separator}'" if split.separator else ""
    if not split.odd:
        return f"all {len(made.filled)} cells follow {_patterns(split)}{several}"
    followed = f"{len(made.filled) - len(split.odd)} of {len(made.filled)} cells follow the patterns"
    return f"{followed}{several}; not {made.places(split.odd)}"


def _patterns(split: Split) -> str:
    return "one pattern" if len(split.patterns) == 1 else f"{len(split.patterns)} patterns"


def _fields(pattern: str) -> list[str]:
    return [part.partition("}")[0].partition(":")[0] for part in pattern.split("{")[1:]]


def _by_values(made: Profile, today: date) -> Proposal:
    """A column whose heading says nothing: what its values alone suggest is never sure."""
    if counts_rows(made):
        return Proposal(made, reasons=["the values only count the rows: leave it out"])
    fits = [(e.share, name, e) for name in _TELLING for e in [evidence(targets()[name], made, today)] if e.share >= 0.9]
    if not fits:
        return Proposal(made, reasons=["neither the heading nor the values name a field"])
    _, name, found = max(fits, key=lambda f: f[0])
    proposal = Proposal(
        made, (name,), _BY_VALUES, ["the heading says nothing", *found.reasons], settings=found.settings
    )
    proposal.others = [other for _, other, _ in fits if other != name]
    proposal.family, proposal.evidence = family(name, made.heading), found
    return proposal
