"""What `--show` may be, and which requests each kind has an answer to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.values import several_of
from analysis.reports.stone_free.request import Request

RATES, MAP, GRADES, JUDGEMENT, READERS, CORRECTED = "rates", "map", "ct-grades", "judgement", "readers", "corrected"
KINDS = (RATES, MAP, GRADES, JUDGEMENT, READERS, CORRECTED)
OF_A_KIDNEY = ("side", "course")
WHOLE = (MAP, READERS)
"""Kinds that are of everyone and not split by groups."""


@dataclass(frozen=True)
class Shown:
    """What is asked for: kinds in the order typed, rates first, and the format."""

    kinds: tuple[str, ...]
    output_format: str

    @property
    def further(self) -> tuple[str, ...]:
        """All but the rates."""
        return tuple(kind for kind in self.kinds if kind != RATES)


def read_shown(text: str | None, output_format: str, named: Mapping[str, object]) -> Shown:
    """Read `--show`.

    named: files and options that were given, by name. Raises MalformedOptionError for a kind that is not known, a
    combination that one format cannot hold, a file that a kind needs, or an option that none of the kinds uses.
    """
    words = (RATES if text is None else text).split(",")
    ours = [word.strip().casefold() for word in words]
    spelt = ",".join(one if one in KINDS else word for one, word in zip(ours, words, strict=True))
    kinds = several_of(spelt, "show", KINDS)
    kinds = tuple(sorted(kinds, key=lambda kind: kind != RATES))
    if output_format != "text" and RATES in kinds and len(kinds) > 1:
        raise MalformedOptionError(
            f"--format {output_format} holds the rates alone, or the other kinds together, because their rows differ. "
            f"Ask twice: --show rates, and --show {','.join(kinds[1:])}."
        )
    if CORRECTED in kinds and "detection" not in named:
        raise MalformedOptionError(
            "--show corrected needs --detection FILE, a TOML file with the sensitivity and specificity of each kind of "
            'scan for residual fragments: [[detection]] with modality = "ultrasound", sensitivity = 0.45, '
            "specificity = 0.88, and so on."
        )
    for option, kind in (("detection", CORRECTED), ("grade_table", GRADES)):
        if option in named and kind not in kinds:
            raise MalformedOptionError(
                f"--{option.replace('_', '-')} is read for --show {kind} alone; add that, or leave the file out."
            )
    _check_use(kinds, named)
    return Shown(kinds, output_format)


def _check_use(kinds: Sequence[str], named: Mapping[str, object]) -> None:
    if "figure" in named and not {RATES, MAP} & set(kinds):
        raise MalformedOptionError("--figure draws the rates or the map; add one of them to --show, or leave it out.")
    if "cases" in named and RATES not in kinds and (len(kinds) > 1 or MAP in kinds):
        raise MalformedOptionError(
            "--cases lists the cases behind one kind of answer: the rates, or one of ct-grades, judgement, readers and "
            "corrected. For a row of the map ask for the rates by its definition."
        )
    takers = {
        "compare": (RATES, CORRECTED),
        "strata": (RATES,),
        "by": tuple(kind for kind in KINDS if kind not in WHOLE),
    }
    for option, taking in takers.items():
        if option in named and not set(taking) & set(kinds):
            raise MalformedOptionError(
                f"--{option} has a meaning for {' and '.join(taking)} alone, and --show {','.join(kinds)} has none of "
                "them."
            )


def check_units(kinds: Sequence[str], request: Request) -> None:
    """Raises MalformedOptionError when a kind has no answer for the unit or the sessions asked for."""
    definition = request.definition
    for kind in (GRADES, JUDGEMENT, CORRECTED):
        if kind in kinds and definition.unit not in OF_A_KIDNEY:
            raise MalformedOptionError(
                f"--show {kind} is about one kidney and its scan, so --unit {definition.unit} has no answer; ask with "
                "--unit side or --unit course."
            )
    if JUDGEMENT in kinds and definition.sessions != "single":
        raise MalformedOptionError(
            f"--show judgement sets what was judged at the end of one operation against the scan after it, so "
            f"--sessions {definition.sessions} has no answer; ask with --unit side --sessions single."
        )
