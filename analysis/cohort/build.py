"""Building the cohort from a snapshot: SQL in an analytic engine, in memory, over the frozen files."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import duckdb
import numpy as np
import pyarrow as pa

from analysis.cohort.columns import cohort_columns
from analysis.cohort.declared import OF_OPERATION, OF_SIDE
from analysis.cohort.parquet import read_table
from analysis.cohort.snapshot import Snapshot
from analysis.cohort.sql import equipment, lithotripsy, operators, outcome, sides, stones, treatments
from analysis.cohort.unit_settings import CohortSettings

# In this order: later ones read earlier ones.
SUBJECTS = (
    operators.TECHNIQUES,
    operators.FIRST_OPERATORS,
    operators.OPERATORS,
    stones.STONES,
    equipment.IN_PLACE,
    equipment.PAIRS,
    equipment.ATTEMPTS,
    equipment.EQUIPMENT,
    lithotripsy.LITHOTRIPSY,
    lithotripsy.CULTURES,
    treatments.LATEST_DAY,
    treatments.AUXILIARY_DAYS,
    treatments.DATED_SIDE,
    treatments.COURSE_EVENT,
    treatments.TREATMENTS,
)


@dataclass(frozen=True)
class Built:
    """What a snapshot makes before anybody is left out.

    frame: the cohort frame. outcome: the frames from which outcomes are judged, by name.
    """

    frame: pa.Table
    outcome: dict[str, pa.Table]


def build(snapshot: Snapshot, settings: CohortSettings) -> Built:
    """Make the cohort frame and the outcome frames of a snapshot.

    The same snapshot gives the same rows in the same order, to the last bit.
    """
    with engine_on(snapshot, settings) as engine:
        for statement in SUBJECTS:
            engine.execute(statement)
        frame = engine.sql(sides.SIDES).to_arrow_table()
        frames = {name: engine.sql(query).to_arrow_table() for name, query in outcome.FRAMES.items()}
    return Built(frame=_with_recorded(frame, snapshot), outcome=frames)


@contextmanager
def engine_on(snapshot: Snapshot, settings: CohortSettings) -> Iterator[duckdb.DuckDBPyConnection]:
    """An engine in memory that sees the snapshot's tables by their names, and `site_days`."""
    # Extensions are never fetched: a hospital's network has no way out, and none is needed.
    engine = duckdb.connect(":memory:", config={"autoinstall_known_extensions": False})
    try:
        for name in snapshot.manifest.tables:
            path = str(snapshot.file(name)).replace("'", "''")
            engine.execute(f"CREATE VIEW \"{name}\" AS SELECT * FROM read_parquet('{path}')")
        engine.register("site_days", _site_days(settings))
        yield engine
    finally:
        engine.close()


def _with_recorded(frame: pa.Table, snapshot: Snapshot) -> pa.Table:
    """The frame with the operation's and the side's own fields laid beside it, in the declared order.

    The frozen rows lie by key, so that each row's place is found by its key; sending a hundred columns through the
    joins and the sort would take twice as long.
    """
    beside = {name: frame.column(name) for name in frame.column_names}
    for table_name, key, columns in (("operation", "operation_id", OF_OPERATION), ("treated_side", "side_id", OF_SIDE)):
        taken = read_table(snapshot.file(table_name), ["id", *(column.name for column in columns)])
        keys, wanted = taken.column("id").to_numpy(), frame.column(key).to_numpy()
        if not np.array_equal(keys, wanted):
            taken = taken.combine_chunks().take(pa.array(np.searchsorted(keys, wanted)))
        beside.update({column.name: taken.column(column.name) for column in columns})
    return pa.table({name: beside[name] for name in cohort_columns()})


def _site_days(settings: CohortSettings) -> pa.Table:
    days = settings.auxiliary_days
    return pa.table({"site_id": pa.array(list(days), pa.int64()), "days": pa.array(list(days.values()), pa.int64())})
