"""Failures per piece opened, lives of pieces and what is to be reported, end to end on a real registry."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from analysis.reports.equipment.life_sections import uses_per_event
from tests.cohort.rows import Rows, day
from tests.reports.equipment.conftest import Run, registry_of


def section(text: str, name: str) -> dict[tuple[Any, ...], dict[str, Any]]:
    rows = [row for row in json.loads(text)["rows"] if row["section"] == name]
    return {tuple(row["group"].values()): row for row in rows}


def test_failures_are_counted_per_piece_opened(run: Run) -> None:
    status, out, err = run("--format", "json")
    assert (status, err) == (0, "")
    rows = section(out, "failures")
    # 6 single-use, and of the reusable 4 + 2 (both sides of one operation are one) + 1 without a piece.
    assert [rows[name,]["opened"] for name in ("all", "single-use", "reusable")] == [13, 6, 7]
    single = rows["single-use",]
    assert (single["n"], single["unknown"], single["events"]) == (5, 1, 1)
    reusable = rows["reusable",]
    assert (reusable["n"], reusable["unknown"], reusable["events"]) == (7, 0, 1)
    assert reusable["clusters"] == 3  # two pieces, and the patient in whom none was named
    assert reusable["low_clustered"] <= reusable["low"] < reusable["estimate"] < reusable["high"]


def test_what_failed_when_and_what_followed(run: Run) -> None:
    rows = section(run("--format", "json")[1], "how")
    assert rows["what failed", "Image lost"]["events"] == 1
    assert rows["what failed", "Deflection lost"]["n"] == 12
    assert rows["when", "In the operation"]["events"] == 1
    assert rows["when", "not recorded"]["events"] == 1
    assert rows["what followed", "not recorded"]["events"] == 2


def test_each_model_with_how_its_uses_went(run: Run) -> None:
    row = section(run("--format", "json")[1], "by_model")["M1",]
    told = {name: row[f"result_{name}"] for name in ("passed", "failed", "exchanged", "withdrawn", "not_recorded")}
    assert told == {"passed": 3, "failed": 2, "exchanged": 1, "withdrawn": 0, "not_recorded": 0}
    assert (row["opened"], row["events"], row["unknown"]) == (6, 1, 1)


def test_the_life_of_each_piece(run: Run) -> None:
    rows = section(run("--format", "json")[1], "uses")
    new, old = rows["M2", "no. 1"], rows["M2", "no. 2"]
    assert (new["registry_uses"], new["total_uses"], new["failures"], new["first_failure"], new["repairs"]) == (
        4, 4, 1, 3, 1,
    )  # fmt: skip
    assert (old["registry_uses"], old["total_uses"], old["failures"], old["first_failure"]) == (2, 32, 0, None)
    assert (old["acquired_on"], old["retired_on"]) == (None, "2024-07-19")


def test_uses_per_repair_of_all_pieces(run: Run) -> None:
    row = section(run("--format", "json")[1], "uses_per_event")["all", "repair"]
    assert (row["pieces"], row["n"], row["events"], row["estimate"]) == (2, 6, 1, 6.0)


def test_only_pieces_that_came_new_tell_when_the_first_failure_comes(run: Run) -> None:
    out = run("--format", "json")[1]
    assert (section(out, "median_uses")["new",]["n"], section(out, "median_uses")["new",]["estimate"]) == (1, 3.0)
    notes = json.loads(out)["definition"]["sections"]["first_failure"]["notes"]
    assert notes[1] == "Left out: 1 that were used before, or of which nobody recorded whether they were."


@pytest.mark.parametrize(
    ("events", "fewest", "most"),
    [  # Garwood's exact limits of a Poisson count, as tabulated in Biometrika 1936;28:437-442
        (1, 0.0253, 5.572),
        (5, 1.623, 11.668),
        (10, 4.795, 18.390),
    ],
)
def test_uses_per_event_have_exact_limits(events: int, fewest: float, most: float) -> None:
    row = uses_per_event(100, events, 0.95)
    assert row["estimate"] == 100 / events
    assert 100 / row["low"] == pytest.approx(most, abs=0.001)
    assert 100 / row["high"] == pytest.approx(fewest, abs=0.0005)


def test_without_an_event_there_is_a_lower_limit_alone() -> None:
    row = uses_per_event(100, 0, 0.95)
    assert (row["estimate"], row["high"]) == (None, None)
    assert row["low"] == pytest.approx(100 / 3.689, abs=0.01)  # the same table
    assert uses_per_event(0, 0, 0.95)["low"] is None


def test_what_is_to_be_reported_is_listed_for_every_kind(run: Run) -> None:
    status, out, _ = run("--format", "json")
    rows = [row for row in json.loads(out)["rows"] if row["section"] == "vigilance"]
    # The deflection was reported, the sheath was not; nobody said of the lost image whether it has to be.
    assert [(row["model"], row["failure_mode"], row["reportable"]) for row in rows] == [("M3", "Shaft fracture", "Yes")]
    assert [row["study_number"] for row in rows] == [f"S{14:04d}"]
    assert "group" not in rows[0] and "study number" not in rows[0]
    assert json.loads(out)["definition"]["sections"]["vigilance"]["failures_not_said"] == 1
    text = run()[1]
    assert "study number" in text and "S0014" in text
    assert "national law" in text and "sends nothing" in " ".join(text.split())
    assert status == 0


def test_a_report_after_the_day_is_none_yet(run: Run) -> None:
    out = run("--format", "json", "--as-of", "2024-01-25")[1]
    rows = [row for row in json.loads(out)["rows"] if row["section"] == "vigilance"]
    assert [row["model"] for row in rows] == ["M2"]


def test_days_limit_the_failures_and_not_the_lives(run: Run) -> None:
    out = run("--format", "json", "--since", "2024-01-03", "--until", "2024-01-04")[1]
    assert section(out, "failures")["all",]["opened"] == 2
    assert section(out, "uses")["M2", "no. 1"]["registry_uses"] == 4


def test_splits_by_the_cohorts_columns_and_by_the_equipments_own(run: Run) -> None:
    rows = section(run("--format", "json", "--by", "reuse,research_use")[1], "failures_by")
    assert sum(row["opened"] for row in rows.values()) == 13
    by_model = section(run("--format", "json", "--by", "model_code")[1], "failures_by")
    assert by_model["M1",]["events"] == 1


def test_a_column_of_the_side_is_said_to_be_no_column_of_the_piece(run: Run) -> None:
    def notes(*by: str) -> str:
        return " ".join(json.loads(run("--format", "json", *by)[1])["definition"]["sections"]["failures_by"]["notes"])

    said = notes("--by", "scope_single_use")
    assert "scope_single_use describes the side and not the piece" in said
    assert "these rows may differ from the tables by piece" in said and "reuse or model_code" in said
    assert "scope_single_use describes the side" in notes("--by", "reuse,scope_single_use")
    assert "site and scope_single_use describe the side" in notes("--by", "site,scope_single_use")
    assert notes("--by", "reuse,model_code") == ""
    assert "describes the side and not the piece" in " ".join(run("--by", "scope_single_use")[1].split())


def test_another_kind(run: Run) -> None:
    rows = section(run("--format", "json", "--kind", "access_sheath")[1], "failures")
    assert (rows["all",]["events"], rows["all",]["n"]) == (1, 1)
    status, out, _ = run("--kind", "nephroscope")
    assert status == 0
    assert "No nephroscope was opened in the cohort, so there is no rate." in out
    assert "nothing is known of lives" in " ".join(out.split())


def test_a_rate_from_few_is_not_shown_in_text(run: Run) -> None:
    out = run("--kind", "access_sheath")[1]
    assert (
        "n < 5" in out and "100" not in out.split("Who is counted")[0].split("Failures per piece")[1].split("Each")[0]
    )


def test_cases_add_up_to_the_figures(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "cases.csv"
    status, _, err = run("--cases", str(file))
    assert status == 0 and "not to leave the unit" in err
    with file.open(encoding="utf-8") as opened:
        rows = list(csv.DictReader(opened))
    assert len(rows) == 13
    assert sum(row["failure"] == "failed" for row in rows) == 2
    assert sum(row["failure"] == "cannot be told" for row in rows) == 1
    assert file.stat().st_mode & 0o077 == 0
    assert "K-77" not in file.read_text(encoding="utf-8")


def test_research_use_leaves_refusers_out_of_the_figures(run: Run) -> None:
    assert section(run("--format", "json", "--research")[1], "failures")["all",]["opened"] == 12


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("--kind", "scopes"), 2, "--kind 'scopes' is not known"),
        (("--since", "2024"), 2, "--since '2024' is no date"),
        (("--since", "2024-05-01", "--until", "2024-04-01"), 2, "give the earlier day first"),
        (("--by", "colour"), 1, "'colour' is no column of the cohort"),
        (("--level", "95"), 2, "no confidence level"),
        (("--cases", "list.txt"), 2, "has to end in .csv"),
    ],
)
def test_bad_input_is_said_in_a_sentence(run: Run, arguments: tuple[str, ...], status: int, said: str) -> None:
    found, out, err = run(*arguments)
    assert (found, out) == (status, "")
    assert said in err and "Traceback" not in err


def test_an_empty_registry_says_so(run: Run, tmp_path: Path) -> None:
    status, _, err = run(registry=registry_of(tmp_path, Rows()))
    assert status == 1 and "holds no operation" in err


class TestPublished:
    """Failures of a randomised cohort of combined surgery, 89 an arm (tomesphere.com/paper/PMC12602674), and the
    scopes of 228 consecutive operations (jdc.jefferson.edu/patientsafetyposters/96)."""

    def test_four_of_89_broke_against_six_of_89(self, run: Run, tmp_path: Path) -> None:
        """The reusable arm's six repairs stand for six failures."""
        rows = Rows()
        models = rows.scope(75, single_use="yes"), rows.scope(85, single_use="no")
        for model, failures in zip(models, (4, 6), strict=True):
            for at in range(89):
                failed = {"failure_mode": "other"} if at < failures else {}
                rows.used(rows.side(on=at), model, **failed)
        told = section(run("--format", "json", registry=registry_of(tmp_path, rows))[1], "failures")
        single, reusable = told["single-use",], told["reusable",]
        assert (single["events"], single["n"]) == (4, 89)
        assert single["estimate"] == pytest.approx(0.045, abs=0.0005)  # published: 4.5 %
        assert (reusable["events"], reusable["n"]) == (6, 89)
        # Wilson's limits of 4/89 and 6/89, computed with statsmodels' proportion_confint.
        assert (single["low"], single["high"]) == pytest.approx((0.01761, 0.10993), abs=0.00001)
        assert (reusable["low"], reusable["high"]) == pytest.approx((0.03126, 0.13937), abs=0.00001)

    def test_261_scopes_were_opened_in_228_operations(self, run: Run, tmp_path: Path) -> None:
        rows = Rows()
        model = rows.scope(85, single_use="no")
        for at in range(228):
            side = rows.side(on=at % 300)
            for _ in range(2 if at < 261 - 228 else 1):
                rows.used(side, model)
        rows.add("contact", patient_id=1, contacted_on=day(400))
        status, out, _ = run(registry=registry_of(tmp_path, rows))
        assert status == 0
        assert "261 pieces opened in 228 operations." in out
