"""The wording of a stone-free definition, apart from its meaning."""

from __future__ import annotations

from collections.abc import Mapping

IMAGING = {
    "any": "any study",
    "ct": "CT",
    "us": "ultrasound",
    "kub": "a plain film (KUB)",
    "us+kub": "ultrasound paired with a plain film (KUB)",
    "second-look": "an endoscopic second look",
}
PICK = {
    "nearest": "an adequate study first, then the one nearest to day {target}",
    "last": "an adequate study first, then the last",
    "best": "an adequate study first, then the best modality and the thinnest slice",
}
UNIT = {
    "side": "every treated side",
    "stone": "every stone aimed at, once a course,",
    "operation": "every operation, from its sides,",
    "course": "every course of treatment",
    "patient": "every patient",
}
SESSIONS = {
    "single": "after the single operation",
    "planned": "after the last planned stage",
    "auxiliary": "after the last planned or auxiliary treatment",
}
STONES = {
    "any": "any stone of the renal unit counts",
    "targeted": "stones left on purpose and new stones do not count",
}
RETREATED = {
    "failed": "a side treated again before such a study has failed",
    "unknown": "a side treated again before such a study is unknown",
}
DIED = {
    "out": "death before such a study takes the side out",
    "failed": "death before such a study is a failure",
}
DENOMINATOR = {
    "intended": "where stone removal was intended",
    "protocol": "where stone removal was intended and went by protocol (access as meant, not abandoned)",
}


def sentence(
    *,
    thresholds: str,
    options: Mapping[str, str],
    adequacy: str,
    assume_slice_mm: float | None,
    first_day: int,
    last_day: int,
    target_day: int,
) -> str:
    """One sentence that holds the whole definition; `options` has one value for each table above."""
    assumed = "" if assume_slice_mm is None else f", an unrecorded CT slice taken as {assume_slice_mm:g} mm"
    pick = PICK[options["pick"]].format(target=target_day)
    return (
        f"Stone-free means {thresholds} on {IMAGING[options['imaging']]} "
        f"({pick}; adequacy {adequacy}{assumed}) on day {first_day} to {last_day} "
        f"{SESSIONS[options['sessions']]}, judged for {UNIT[options['unit']]} "
        f"{DENOMINATOR[options['denominator']]}; {STONES[options['stones']]}, "
        f"{RETREATED[options['retreated']]}, and {DIED[options['died']]}."
    )
