"""Stone-free rates corrected for scans that err: Rogan and Gladen's correction of the residual rate.

Each modality at each threshold by its own sensitivity and specificity; then all together, each modality weighing the
share of kidneys that it was picked for. A study is taken at its word here, for its errors are what is corrected: the
adequacy table decides only which study is picked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.misclassification import Corrected, rogan_gladen
from analysis.estimators.mixed_tests import METHOD, ErringTest, Mixed, mixed_correction
from analysis.outcomes.adequacy import MODALITIES
from analysis.reports.sections.report import Column, Section
from analysis.reports.stone_free.render_text import SPOKEN_MODALITY
from analysis.reports.stone_free_scans.detection_file import Detection, DetectionTable
from analysis.reports.stone_free_scans.question import Judged, Question
from analysis.reports.stone_free_scans.raised import raised_notes

ALL = "all"
CUT = "beyond 0 or 100 %, cut"
COLUMNS = (
    Column("threshold", "threshold_words"),
    Column("seen by", "seen_by"),
    Column("n", "n", "count"),
    Column("residual", "events", "count"),
    Column("as scanned", "apparent", "percent"),
    Column("corrected", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("sensitivity", "sensitivity_words"),
    Column("specificity", "specificity_words"),
    Column("unknown", "unknown", "count"),
    Column("remark", "remark"),
)


@dataclass(frozen=True)
class AtTheirWord:
    """What the picked studies show at one threshold, units in the order of the packed ones.

    eligible; decided: a study says residual or none; residual: it says residual; modality: place in MODALITIES, -1.
    """

    code: str
    words: str
    eligible: npt.NDArray[np.bool_]
    decided: npt.NDArray[np.bool_]
    residual: npt.NDArray[np.bool_]
    modality: npt.NDArray[np.int64]


def at_their_word(judged: Judged) -> list[AtTheirWord]:
    """Of each threshold what the picked studies say, whether or not they are adequate at it."""
    made = []
    for asked in judged.units.thresholds:
        rows = judged.at(asked.code)
        residual = (rows["rung"] == "study_failed").to_numpy(dtype=bool)
        clear = (rows["rung"] == "study_free") | ((rows["rung"] == "study_unknown") & (rows["note"] == "inadequate"))
        made.append(
            AtTheirWord(
                code=asked.code,
                words=asked.in_words(),
                eligible=rows["status"].isin(["free", "failed", "unknown"]).to_numpy(dtype=bool),
                decided=residual | clear.to_numpy(dtype=bool),
                residual=residual,
                modality=pd.Index(MODALITIES).get_indexer(pd.Index(rows["modality"].astype(object))).astype(np.int64),
            )
        )
    return made


def corrected_section(question: Question, table: DetectionTable) -> Section:
    """One row a group, threshold and modality seen, and one of all together."""
    judged = question.own
    rows: list[dict[str, Any]] = []
    for place, label in enumerate(judged.grouping.as_dicts()):
        here = judged.grouping.codes == place
        for one, asked in zip(at_their_word(judged), judged.units.thresholds, strict=True):
            common = {
                "group": label,
                "threshold_mm": asked.threshold_mm,
                "comparison": asked.comparison,
                "threshold_words": one.words,
            }
            made = _rows(question, table, one, here)
            rows += [common | row for row in made]
    return Section(
        name="corrected",
        title="Stone-free, corrected for scans that err",
        rows=rows,
        columns=COLUMNS,
        definition={
            "status": judged.definition.as_dict(),
            "detection": table.as_dict(),
            "correction": "residual rate = (seen + specificity - 1) / (sensitivity + specificity - 1)",
            "combined": METHOD,
            "replicates": question.request.replicates,
            "seed": question.request.seed,
            "source": "Rogan WJ, Gladen B, Am J Epidemiol 1978;107:71-76; Lang Z, Reiczigel J, Prev Vet Med "
            "2014;113:13-22 (the adjusted interval from memory)",
        },
        in_words=[
            ("detection", f"{table.name}; {table.source}"),
            ("counted", "kidneys whose picked study says residual or none, taken at its word, adequate or not"),
            ("corrected", "1 less the corrected residual rate; sensitivity is for a residual fragment on that scan"),
            (
                "together",
                "each modality weighs its share of those kidneys, before anything is cut to 0 and 100 %; interval by "
                f"{question.request.replicates:,} resamples of patients that also draw each measured sensitivity and "
                "specificity anew",
            ),
        ],
        notes=[
            "Published sensitivities of ultrasound and plain film are for stones of any size and not for fragments of "
            "1 to 3 mm: read this as a sensitivity analysis. 'Unknown' has no study, or one that settles nothing; "
            "kidneys treated again or given up without a scan are in it.",
            *raised_notes(rows, table, question.request.small_number),
        ],
    )


def _rows(
    question: Question, table: DetectionTable, one: AtTheirWord, here: npt.NDArray[np.bool_]
) -> list[dict[str, Any]]:
    inside = here & one.eligible
    unknown = int((inside & ~one.decided).sum())
    rows, parts = [], []
    for at, modality in enumerate(MODALITIES):
        own = inside & (one.modality == at)
        counted = own & one.decided
        if not own.any():
            continue
        n, events = int(counted.sum()), int((counted & one.residual).sum())
        detection = table.of(modality, one.code)
        found = _correct(detection, events, n, question.request.level)
        parts.append((at, detection, n, found))
        rows.append(
            _row(
                modality, n, events, int((own & ~one.decided).sum()), detection, found, n, question.request.small_number
            )
        )
    together = _together(question, one, inside, parts)
    events = int((inside & one.decided & one.residual).sum())
    n = int((inside & one.decided).sum())
    weights = {MODALITIES[at]: size for at, _, size, _ in parts}
    last = {
        "modality": ALL,
        "seen_by": "all together",
        "n": n,
        "unknown": unknown,
        "events": events,
        "apparent": 1 - events / n if n else None,
        **together,
        "modalities": weights,
    }
    return [*rows, last]


def _correct(detection: Detection | None, events: int, n: int, level: float) -> Corrected | None:
    if detection is None:
        return None
    return rogan_gladen(
        events=events,
        n=n,
        sensitivity=detection.sensitivity,
        specificity=detection.specificity,
        n_sensitivity=detection.n_sensitivity,
        n_specificity=detection.n_specificity,
        level=level,
    )


def _row(
    modality: str,
    n: int,
    events: int,
    unknown: int,
    detection: Detection | None,
    found: Corrected | None,
    size: int,
    small_number: int,
) -> dict[str, Any]:
    """Of one modality; what is free is one less what is residual, so the limits change places."""
    said = {
        name: None if detection is None else getattr(detection, name)
        for name in ("sensitivity", "specificity", "n_sensitivity", "n_specificity")
    }
    reason = "no sensitivity and specificity given" if found is None else found.reason
    cut = found is not None and found.cut
    remark = reason or (CUT if cut and n >= small_number else "")
    return {
        "modality": modality,
        "seen_by": SPOKEN_MODALITY[modality],
        "n": n,
        "unknown": unknown,
        "events": events,
        "apparent": 1 - events / n if n else None,
        "estimate": _mirror(found.estimate) if found else None,
        "low": _mirror(found.high) if found else None,
        "high": _mirror(found.low) if found else None,
        "uncut": _mirror(found.uncut) if found else None,
        "cut": cut,
        **said,
        "sensitivity_words": _share(said["sensitivity"], said["n_sensitivity"]),
        "specificity_words": _share(said["specificity"], said["n_specificity"]),
        "method": found.method if found else None,
        "reason": reason,
        "remark": remark,
        "modalities": {modality: size},
    }


def _mirror(value: float | None) -> float | None:
    return None if value is None else 1 - value


def _share(value: float | None, n: int | None) -> str:
    if value is None:
        return "-"
    return f"{100 * value:g} %{f' of {n:,}' if n else ''}"


def _together(
    question: Question,
    one: AtTheirWord,
    inside: npt.NDArray[np.bool_],
    parts: list[tuple[int, Detection | None, int, Corrected | None]],
) -> dict[str, Any]:
    """Estimate and interval of all modalities together; None with the reason where one cannot be corrected."""
    used = [part for part in parts if part[2]]
    nothing = {"estimate": None, "low": None, "high": None, "uncut": None, "cut": False, "method": METHOD}
    lacking = [SPOKEN_MODALITY[MODALITIES[at]] for at, detection, _, _ in used if detection is None]
    why = "nobody was scanned" if not used else f"no figures for {', '.join(lacking)}" if lacking else ""
    blank = {"sensitivity_words": "", "specificity_words": ""}
    if why:
        return {**nothing, **blank, "reason": why, "remark": why}
    n = sum(size for *_, size, _ in used)
    uncut = 1 - sum(size / n * (found.uncut or 0.0) for *_, size, found in used if found is not None)
    estimate = min(1.0, max(0.0, uncut))
    made = _limits(question, one, inside, {at: each for at, each, _, _ in used if each is not None})
    low, high = (None if limit is None else 1 - limit for limit in (made.high, made.low))
    cut = estimate != uncut
    remark = made.reason or (CUT if cut else "")
    return {
        "estimate": estimate,
        "low": low,
        "high": high,
        "uncut": uncut,
        "cut": cut,
        "method": METHOD,
        **blank,
        "reason": made.reason,
        "remark": remark,
    }


def _limits(question: Question, one: AtTheirWord, inside: npt.NDArray[np.bool_], used: dict[int, Detection]) -> Mixed:
    """Limits of the residual rate of all modalities together."""
    counted = inside & one.decided
    places = np.zeros(len(MODALITIES), dtype=np.int64)
    places[list(used)] = np.arange(len(used))
    return mixed_correction(
        positive=one.residual[counted],
        test=places[one.modality[counted]],
        cluster=question.own.units.patient[counted],
        tests=[
            ErringTest(each.sensitivity, each.specificity, each.n_sensitivity, each.n_specificity)
            for each in used.values()
        ],
        seed=question.request.seed,
        replicates=question.request.replicates,
        level=question.request.level,
    )


def corrected_cases(question: Question) -> pd.DataFrame:
    """The units behind the correction, one row a unit and threshold: modality and what the study says."""
    judged = question.own
    names = np.array([*judged.grouping.named(), ""], dtype=object)
    parts = []
    for one in at_their_word(judged):
        rows = judged.at(one.code)
        says = np.where(one.decided, np.where(one.residual, "residual", "none"), "nothing settled")
        part = pd.DataFrame(
            {
                "unit_id": rows["unit_id"],
                "side_id": rows["side_id"],
                "group": names[judged.grouping.codes],
                "threshold": one.code,
                "modality": rows["modality"],
                "study_says": says,
                "picked_study": rows["examination_id"],
                "examined_on": rows["studied_on"],
            }
        )
        parts.append(part[one.eligible])
    return pd.concat(parts, ignore_index=True)
