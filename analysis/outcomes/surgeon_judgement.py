"""What the surgeon judged was left at the end, set against the scan.

Classes: nothing left, dust only, dust and fragments (Gauhar V and others, World J Urol 2025;43(1), doi
10.1007/s00345-025-05570-z), and the registry's further one, fragments without dust. Positive is "something left": the
scan's positive is a fragment above the threshold, the judgement's by either of two cuts.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from registry.schema.lists_operation import SurgeonJudgement

VERSION = "1"
SOURCE = (
    "classes of Gauhar V and others, World J Urol 2025;43(1), doi 10.1007/s00345-025-05570-z, and a further one for "
    "fragments without dust"
)
JUDGED: dict[str, str] = {
    SurgeonJudgement.NOTHING.value: "nothing left",
    SurgeonJudgement.DUST.value: "only dust",
    SurgeonJudgement.DUST_AND_FRAGMENTS.value: "dust and fragments",
    SurgeonJudgement.FRAGMENTS.value: "fragments without dust",
}
"""Judgements that say something, and how they are spoken of."""

CUTS: dict[str, tuple[str, tuple[str, ...]]] = {
    "anything": ("dust or fragments left", ("dust", "dust_and_fragments", "fragments")),
    "fragments": ("fragments left, dust not counted", ("dust_and_fragments", "fragments")),
}
"""What counts as judged positive, by name: in words, and the classes."""


def judged_positive(judgement: pd.Series, cut: str) -> pd.Series:
    """Whether something was judged left, by a cut of CUTS; boolean, missing where nothing was judged."""
    said = judgement.astype(object)
    positive = pd.array(said.isin(CUTS[cut][1]).to_numpy(dtype=bool), dtype="boolean")
    positive[(~said.isin(list(JUDGED))).to_numpy(dtype=bool)] = pd.NA
    return pd.Series(positive, index=judgement.index)


def scan_positive(statuses: pd.DataFrame) -> npt.NDArray[np.object_]:
    """What the scan shows of each row of `stone_free_status`: True a fragment above the threshold, False none, None.

    Only a study adequate at the threshold is a reference, because no other could have shown either: one too coarse can
    only ever contradict the surgeon who judged a kidney clear.
    """
    reference = statuses["decided_by_study"].to_numpy(dtype=bool) & statuses["adequate"].to_numpy(dtype=bool)
    failed = (statuses["status"] == "failed").to_numpy(dtype=bool)
    shows: npt.NDArray[np.object_] = failed.astype(object)
    shows[~reference] = None
    return shows
