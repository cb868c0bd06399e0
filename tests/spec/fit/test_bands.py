"""The published bands are closed below, and the cohort's SQL follows the same rule as the definition."""

from __future__ import annotations

import duckdb
import pytest

from analysis.cohort.columns import cohort_columns
from analysis.cohort.sql.equipment import EQUIPMENT
from analysis.outcomes.fit.bands import BANDS, SPLIT, band_of, scope_to_sheath, split_of
from analysis.outcomes.fit.pair import Pair
from analysis.outcomes.fit.size import of_number, of_tenths_fr


@pytest.mark.parametrize(
    ("scope", "inner", "band", "split"),
    [
        (74, 100, "under 0.75", "0.85 and under"),
        (75, 100, "0.75 to under 0.85", "0.85 and under"),
        (90, 120, "0.75 to under 0.85", "0.85 and under"),
        (84, 100, "0.75 to under 0.85", "0.85 and under"),
        (85, 100, "0.85 and over", "0.85 and under"),
        (102, 120, "0.85 and over", "0.85 and under"),
        (86, 100, "0.85 and over", "over 0.85"),
    ],
)
def test_on_a_limit_and_beside_it(scope: int, inner: int, band: str, split: str):
    assert (band_of(scope, inner), split_of(scope, inner)) == (band, split)


def test_a_size_in_millimetres_on_a_limit_is_on_it():
    # 2.55 mm in 3 mm is 0.85 exactly, which as a quotient of doubles need not be.
    pair = Pair(of_number("2.55", "mm"), of_number("3", "mm"))
    assert (pair.band, pair.split) == ("0.85 and over", "0.85 and under")


@pytest.mark.parametrize(("scope", "inner"), [(100, 100), (110, 100), (0, 100), (-1, 100)])
def test_an_impossible_pair_has_no_band(scope: int, inner: int):
    for rule in (band_of, split_of):
        with pytest.raises(ValueError, match="below the sheath"):
            rule(scope, inner)
    if scope > 0:
        with pytest.raises(ValueError, match="below the sheath"):
            scope_to_sheath(of_tenths_fr(scope), of_tenths_fr(inner))
        with pytest.raises(ValueError, match="smaller than the sheath"):
            Pair(of_tenths_fr(scope), of_tenths_fr(inner))


def test_the_names_are_those_of_the_cohorts_columns():
    assert cohort_columns()["scope_to_sheath_band"].levels == BANDS
    assert cohort_columns()["scope_to_sheath_split"].levels == SPLIT


GRID = """
CREATE TABLE equipment_model AS
SELECT tenths + if(kind = 'scope', 0, 1000) AS id, CAST(tenths AS VARCHAR) AS model_code, kind, 'no' AS single_use,
       'no' AS suction, 'no' AS steerable_tip, 45.0 AS length_cm, NULL::BIGINT AS outer_tenths_fr,
       if(kind = 'scope', tenths, NULL) AS shaft_tenths_fr, if(kind = 'scope', NULL, tenths) AS inner_tenths_fr
FROM (SELECT 'scope' AS kind, range AS tenths FROM range(40, 141)
      UNION ALL SELECT 'access_sheath', range FROM range(60, 161));
CREATE TABLE treated_side AS
SELECT row_number() OVER () AS id, scope.id AS scope_id, sheath.id AS sheath_id
FROM equipment_model scope, equipment_model sheath WHERE scope.kind = 'scope' AND sheath.kind = 'access_sheath';
CREATE TABLE in_place AS
SELECT id AS side_id, 1 AS place, 2 * id AS use_id, 'access_sheath' AS kind, sheath_id AS model_id, true AS most
FROM treated_side
UNION ALL SELECT id, 2, 2 * id + 1, 'scope', scope_id, true FROM treated_side;
CREATE TABLE equipment_use AS SELECT side_id AS treated_side_id, use_id AS id FROM in_place;
CREATE TABLE side_pair AS
SELECT id AS side_id, 2 * id AS sheath_use, 2 * id + 1 AS scope_use, 1 AS pairs FROM treated_side;
CREATE TABLE side_technique_group AS SELECT id AS side_id, 'flexible' AS technique FROM treated_side;
CREATE TABLE side_sheath_attempts AS
SELECT id AS side_id, 'no' AS sheath_failed, sheath_id AS first_model_id FROM treated_side;
"""


def test_the_cohorts_sql_and_the_definition_agree_on_every_tenth():
    """The cohort's own SQL, run over every scope of 4 to 14 Fr in every sheath of 6 to 16 Fr."""
    with duckdb.connect() as base:
        base.execute(GRID)
        base.execute(EQUIPMENT)
        found = base.execute(
            "SELECT CAST(round(scope_fr * 10) AS INTEGER), CAST(round(sheath_inner_fr * 10) AS INTEGER), ratio_state, "
            "scope_to_sheath_band, scope_to_sheath_split, sheath_to_scope_ratio FROM side_equipment"
        ).fetchall()
    assert len(found) == 101 * 101
    seen = set()
    for scope, sheath, state, band, split, ratio in found:
        if scope >= sheath:
            assert (state, band, split, ratio) == ("impossible", None, None, None)
        else:
            assert (state, band, split) == ("known", band_of(scope, sheath), split_of(scope, sheath)), (scope, sheath)
            assert ratio == pytest.approx(float(Pair(of_tenths_fr(scope), of_tenths_fr(sheath)).sheath_to_scope))
            seen.add((band, split))
    assert len(seen) == 4
