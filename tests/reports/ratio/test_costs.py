"""The cost of a course on the ratio of its index side, against costs worked by hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analysis.reports.ratio.answer import answered, report_of
from analysis.reports.ratio.request import read_request
from analysis.reports.request.source import ask_snapshot_cohort
from analysis.reports.sections.render_json import as_json
from tests.cohort.rows import Rows, day
from tests.spec.cost.accounts import accounts, operated, price

from .scoped_unit import model_text, written

EXPOSURE = 'column = "scope_to_sheath_band"\nshape = "levels"\nreference = "under 0.75"'


def priced() -> Rows:
    """Twenty courses with a wide fit and an hour in theatre at 10 a minute, twenty with a tight one and 80 minutes;
    scope and sheath 100 each: 800 and 1000. One more has a scope without a price, one was begun too late to be due."""
    rows = accounts()
    scopes = {tenths: rows.scope(tenths, single_use="yes") for tenths in (75, 110)}
    sheath, unpriced = rows.sheath(120, single_use="yes"), rows.scope(76, single_use="yes")
    for model in (*scopes.values(), sheath):
        price(rows, model, 100.0)
    for scope, minutes, many, on in (
        (scopes[75], 60, 20, 0),
        (scopes[110], 80, 20, 0),
        (unpriced, 60, 1, 0),
        (scopes[75], 60, 1, 350),
    ):
        for _ in range(many):
            side = operated(rows, rows.unit(), on, equipment=False, room_min=minutes)
            rows.used(side, sheath)
            rows.used(side, scope)
    rows.add("contact", patient_id=1, contacted_on=day(400), method="letter")
    return rows


def test_mean_costs_are_compared_and_what_has_no_price_is_unknown(tmp_path: Path) -> None:
    request = read_request(written(tmp_path, model_text(outcome='what = "cost"', exposure=EXPOSURE)), {})
    asked = ask_snapshot_cohort(priced().snapshot_of(tmp_path / "frozen"), research=True)
    made = answered(request.model, asked, contrast_asked=True, show=request.show)
    rows = json.loads(as_json(report_of(request, asked, [made])))["rows"]
    (effect,) = [row for row in rows if row["section"] == "effect"]
    assert (effect["measure"], effect["n"]) == ("ratio of means", 40)
    assert effect["estimate"] == pytest.approx(1.25)
    flow = {row["step"]: row["left_out"] for row in rows if row["section"] == "rows"}
    assert flow["outcome unknown"] == 1
    assert flow["outcome not due yet"] == 1
    assert made.rows.unit == "course"
    assert made.rows.label == "cost over 90 days (EUR)"
