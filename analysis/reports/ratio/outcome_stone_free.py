"""Being stone-free, one row a treated side, by any definition of the command that works rates out."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.outcome_options import options_of, read_as_typed
from analysis.reports.ratio.rows import DIED, KNOWN, NOT_DUE, OUT, UNKNOWN, Rows
from analysis.reports.request.own_defaults import OwnDefault
from analysis.reports.request.source import Asked
from analysis.reports.stone_free.asking import answer_asked
from analysis.reports.stone_free.definition_lines import definition_lines
from analysis.reports.stone_free.request import DEFINING
from registry.schema.errors import GravelbookError

OPTIONS = tuple(name for name in DEFINING if name not in ("unit", "sessions"))
STATES = {"free": KNOWN, "failed": KNOWN, "unknown": UNKNOWN, "not_due": NOT_DUE, "died": DIED, "out": OUT}


def stone_free_rows(model: Model, asked: Asked) -> Rows:
    """The sides of a cohort with their status at one threshold.

    Raises GravelbookError for an option that cannot be read, and for several thresholds.
    """
    typed = dict.fromkeys(DEFINING) | dict(options_of(model, OPTIONS))
    typed |= {"unit": "side", "sessions": "single", "unscanned": "complete"}
    answer, sides = read_as_typed(model, lambda: answer_asked(asked, typed))
    request = answer.request
    thresholds = request.definition.thresholds
    if len(thresholds) != 1:
        raise GravelbookError(
            f"{model.place}, [outcome] threshold: a model has one outcome, and {len(thresholds)} thresholds are named "
            f'({", ".join(one.code for one in thresholds)}). Write one, threshold = "2" for example.'
        )
    status = answer.statuses[["unit_id", "status", "rung"]].rename(columns={"unit_id": "side_id"})
    frame = sides.merge(status, on="side_id", validate="one_to_one")
    said = frame["status"].astype(object)
    frame["unit_id"] = frame["side_id"]
    frame["outcome_state"] = said.map(STATES)
    frame["outcome"] = np.where(said == "free", 1.0, np.where(said == "failed", 0.0, np.nan))
    eligible = said.isin(["free", "failed", "unknown"])
    frame["lower"] = np.where(said == "free", 1.0, np.where(eligible, 0.0, np.nan))
    frame["upper"] = np.where(said == "failed", 0.0, np.where(eligible, 1.0, np.nan))
    return Rows(
        unit="treated side",
        kind="yes_no",
        frame=pd.DataFrame(frame),
        label=f"stone-free ({_short(thresholds[0].code)})",
        measured="share stone-free",
        definition=request.definition.as_dict(),
        in_words=tuple(definition_lines(request)),
        own_defaults=tuple(one for one in request.own_defaults if isinstance(one, OwnDefault)),
        cautions=tuple(request.definition.cautions()),
        small_number=request.small_number,
    )


def _short(code: str) -> str:
    """A threshold as it is written: `lt2` is below 2 mm."""
    if code == "0":
        return "no fragment"
    return f"< {code.removeprefix('lt')} mm" if code.startswith("lt") else f"<= {code} mm"
