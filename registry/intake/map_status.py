"""Columns that say whether a side was free of stone, and at which size."""

from __future__ import annotations

from typing import Any

from registry.intake.map_evidence import Evidence
from registry.intake.map_profile import Profile

FREE = frozenset(
    {
        "y",
        "yes",
        "sf",
        "stone free",
        "stone-free",
        "stonefree",
        "free",
        "clear",
        "cleared",
        "1",
        "true",
        "complete",
        "none",
    }
)
LEFT = frozenset(
    {
        "n",
        "no",
        "residual",
        "residuals",
        "rf",
        "residual fragments",
        "residual stone",
        "not free",
        "not clear",
        "0",
        "false",
    }
    | {"incomplete", "not stone free", "fragments", "not sf"}
)
# Beside these words the heading says only when and by which scan; others may mean a judgement at the operation.
_WITH = frozenset(
    {
        "stonefree",
        "followup",
        "postoperative",
        "scan",
        "ct",
        "by",
        "imaging",
        "ultrasound",
        "kub",
        "status",
        "rate",
        "final",
    }
)


def is_status(made: Profile) -> bool:
    """The heading speaks of being free of stone."""
    return "stonefree" in made.heading.words


def status_evidence(made: Profile) -> Evidence:
    """What the words of a status column are, and whether all of them are known."""
    words: dict[str, str] = {}
    for text in made.texts:
        words.setdefault(text.casefold(), text)
    yes = sorted(word for word in words if word in FREE)
    no = sorted(word for word in words if word in LEFT)
    odd = [at for at in made.filled if made.cells[at].text.strip().casefold() not in FREE | LEFT]
    settings: dict[str, Any] = {"status": "reading"}
    found = Evidence(1 - len(odd) / len(made.filled) if made.filled else 0.0, settings=settings)
    if made.heading.size_mm is not None:
        settings["at_mm"] = made.heading.size_mm
        if made.heading.below:
            settings["below"] = True
        found.reasons.append(
            f"the heading says free at {'<' if made.heading.below else '<='} {made.heading.size_mm:g} mm"
        )
    else:
        settings["unsaid"] = "at_mm"
        found.reasons.append("the log does not say up to which size fragments were passed over")
    settings["yes"] = [words[word] for word in yes]
    settings["no"] = [words[word] for word in no]
    found.reasons.append(f"neither yes nor no: {made.places(odd)}" if odd else "all values are yes or no")
    if not yes or not no:
        found.reasons.append("only one of the two answers occurs")
    if made.heading.words - _WITH:
        found.doubts.append("it may be a judgement made at the operation rather than a reading")
    return found
