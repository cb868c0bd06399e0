"""Where each scale applies, and how each side stands on it."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from analysis.outcomes.in_operation.scales import LESION, SATAVA, WALL, Scale

URETEROSCOPIC = r"(?:^|\+)(?:flexible|semirigid|combined)(?:$|\+)"
NOT_RECORDED = "not recorded"
REASON = {
    "satava": "satava_not_applicable",
    "ureteric_lesion": "lesion_not_applicable",
    "wall_injury": "wall_not_applicable",
}


def standing(sides: pd.DataFrame, reasons: pd.DataFrame, scale: Scale) -> pd.DataFrame:
    """How each side stands on one scale.

    sides: side_id, conduct, technique (codes joined by +), sheath_model, sheath_failed, ratio_state, and the columns
    of the scales. reasons: side_id and `<...>_not_applicable`, what was written down as not applicable. Returns, with
    the index of sides: state (graded, missing, not applicable, outside: a grade where the scale does not apply)
    and grade (text, only where graded).

    A scale applies to a side on which a ureteroscope was used and the treatment was started; wall injury to one on
    which a ureteric sheath was tried. Where technique or equipment are not recorded, a grade is taken at its word and
    none is missing.
    """
    grade = sides[scale.column].astype("string")
    applies = _applies(sides, scale)
    said = sides["side_id"].map(reasons.set_index("side_id")[REASON[scale.column]]).astype("boolean").fillna(False)
    state = pd.Series("missing", index=sides.index, dtype="string")
    state = state.mask(grade.notna(), "graded")
    state = state.mask(grade.isna() & said.astype(bool), "not applicable")
    never = (~applies).fillna(False).astype(bool)
    state = state.mask(never & grade.isna(), "not applicable").mask(never & grade.notna(), "outside")
    return pd.DataFrame({"state": state, "grade": grade.where(state == "graded")})


def standings(sides: pd.DataFrame, reasons: pd.DataFrame) -> Mapping[str, pd.DataFrame]:
    """`standing` on every scale, by the scale's column."""
    return {scale.column: standing(sides, reasons, scale) for scale in (SATAVA, LESION, WALL)}


def _applies(sides: pd.DataFrame, scale: Scale) -> pd.Series:
    """Whether the scale can apply: true, false, or missing where nothing tells."""
    technique = sides["technique"].astype("string")
    scoped = technique.str.contains(URETEROSCOPIC, regex=True).astype("boolean")
    scoped = scoped.mask((technique == NOT_RECORDED).fillna(True), pd.NA)
    started = (sides["conduct"].astype("string") != "not_started").fillna(True)
    if scale is not WALL:
        return scoped & started
    tried = sides["sheath_model"].notna() | (sides["sheath_failed"].astype("string") == "yes").fillna(False)
    unknown = ~tried & (sides["ratio_state"].astype("string") == "missing").fillna(True)
    return tried.astype("boolean").mask(unknown, pd.NA) & started
