"""The built frames, kept in the snapshot's folder so that the next question need not build them again.

They lie in a folder named after the code that made them: this room's source, its columns and its libraries. A kept
file whose bytes have changed is built again. Rules are applied when asked; they cost a few milliseconds.
"""

from __future__ import annotations

import hashlib
import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd

from analysis.cohort.coded import Coded, coded_cohort, coded_outcome
from analysis.cohort.columns import cohort_columns
from analysis.cohort.manifest import software
from analysis.cohort.outcome_columns import OUTCOME_COLUMNS
from analysis.cohort.parquet import digest, read_table, write_table
from analysis.cohort.places import UNFINISHED, drop_folder, settle, unfinished_folder
from analysis.cohort.snapshot import Snapshot
from analysis.cohort.typed import cohort_frame, outcome_frame
from analysis.cohort.unit_settings import CohortSettings

COHORTS = "cohorts"
FRAME, SEAL = "cohort", "seal.json"


@dataclass(frozen=True)
class Prepared:
    """A snapshot's cohort frame and outcome frames, before anybody is left out."""

    frame: pd.DataFrame
    outcome: dict[str, pd.DataFrame]


def prepared(snapshot: Snapshot, settings: CohortSettings) -> Prepared:
    """The frames of a snapshot under the unit's settings: as kept, or built and kept."""
    folder = snapshot.folder / COHORTS / f"{code_version()}-{settings.build_key}"
    frames = _kept(folder) or _built(snapshot, settings, folder)
    outcome = {name: outcome_frame(name, frames[f"outcome_{name}"]) for name in OUTCOME_COLUMNS}
    return Prepared(cohort_frame(frames[FRAME]), outcome)


@cache
def code_version() -> str:
    """A name for all that decides the frames besides the snapshot: source, columns with their codes, libraries."""
    here = Path(__file__).parent
    sources = sorted([*here.glob("*.py"), *here.glob("sql/*.py")])
    sealed = hashlib.sha256()
    for source in sources:
        sealed.update(source.name.encode() + source.read_bytes())
    sealed.update(repr(list(cohort_columns().values())).encode())
    sealed.update(repr(sorted(software().items())).encode())
    return sealed.hexdigest()[:20]


Frames = dict[str, Coded]


def _kept(folder: Path) -> Frames | None:
    try:
        seal: dict[str, Any] = json.loads((folder / SEAL).read_text(encoding="utf-8"))
        paths = [folder / f"{name}.parquet" for name in seal["files"]]
        with ThreadPoolExecutor() as pool:
            # Reading and hashing wait for each other otherwise; what was read is given up when a hash is wrong.
            tables, hashes = pool.map(read_table, paths), pool.map(digest, paths)
            if list(hashes) != list(seal["files"].values()):
                return None
            return {name: Coded(table, seal["levels"][name]) for name, table in zip(seal["files"], tables, strict=True)}
    except (OSError, ValueError, KeyError):
        return None


def _built(snapshot: Snapshot, settings: CohortSettings, folder: Path) -> Frames:
    # The engine is needed only here, and takes its time to load.
    from analysis.cohort.build import build

    made = build(snapshot, settings)
    frames = {FRAME: coded_cohort(made.frame)}
    frames |= {f"outcome_{name}": coded_outcome(name, made.outcome[name]) for name in OUTCOME_COLUMNS}
    _keep(frames, folder)
    return frames


def _keep(frames: Frames, folder: Path) -> None:
    try:
        with unfinished_folder(folder.parent) as filling:
            files = {}
            for name, frame in frames.items():
                path = filling / f"{name}.parquet"
                write_table(frame.table, path, quick=True)
                files[name] = digest(path)
            seal = {"files": files, "levels": {name: frame.levels for name, frame in frames.items()}}
            (filling / SEAL).write_text(json.dumps(seal, indent=1, sort_keys=True) + "\n", encoding="utf-8")
            (filling / SEAL).chmod(0o600)
            if folder.is_dir():  # spoilt, or just made by another process
                drop_folder(folder)
            settle(filling, folder)
            for older in folder.parent.iterdir():
                if not older.name.startswith((UNFINISHED, code_version())):
                    drop_folder(older)
    except OSError:
        # A snapshot on a medium that cannot be written to is still read; it only takes longer.
        return
