"""Uses to the first failure against a curve worked by hand, and the figure."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cohort.rows import Rows, day
from tests.reports.equipment.conftest import Run, registry_of


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Five new pieces: one fails in its 3rd use, one ends after 5, two fail in their 8th, one ends after 10."""
    rows = Rows()
    model = rows.scope(85, single_use="no")
    for at, (uses, fails) in enumerate(((3, True), (5, False), (8, True), (8, True), (10, False))):
        item = rows.add("equipment_item", equipment_model_id=model, serial=f"S{at}", uses_before=0)
        for number in range(1, uses + 1):
            failed = {"failure_mode": "light"} if fails and number == uses else {}
            rows.used(rows.side(on=10 * number + at), model, equipment_item_id=item, **failed)
    rows.add("contact", patient_id=1, contacted_on=day(400))
    return registry_of(tmp_path_factory.mktemp("worked"), rows)


def test_the_curve_is_the_one_worked_by_hand(run: Run, worked: str) -> None:
    """By hand: 4/5 after the 3rd use; the 5th censors one; of three left two fail in the 8th: 4/5 x 1/3."""
    told = json.loads(run("--format", "json", registry=worked)[1])["rows"]
    rows = {row["group"]["after"]: row for row in told if row["section"] == "first_failure"}
    assert list(rows) == ["5 uses", "10 uses"]
    assert rows["5 uses"]["estimate"] == pytest.approx(4 / 5)
    assert rows["10 uses"]["estimate"] == pytest.approx(4 / 15)
    assert [(row["at_risk"], row["events"], row["n"]) for row in rows.values()] == [(4, 1, 5), (1, 3, 5)]
    for row in rows.values():
        assert row["low"] < row["estimate"] < row["high"]
    (median,) = [row for row in told if row["section"] == "median_uses"]
    assert (median["estimate"], median["low"], median["high"]) == (8.0, 3.0, None)


def test_failures_of_a_piece_are_one_cluster(run: Run, worked: str) -> None:
    told = json.loads(run("--format", "json", registry=worked)[1])["rows"]
    row = next(row for row in told if row["section"] == "failures" and row["group"]["pieces"] == "reusable")
    assert (row["n"], row["events"], row["clusters"]) == (34, 3, 5)


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_the_figure_is_the_same_bytes_each_time(run: Run, worked: str, tmp_path: Path, ending: str) -> None:
    first, again = tmp_path / f"a.{ending}", tmp_path / f"b.{ending}"
    for file in (first, again):
        status, _, err = run("--figure", str(file), registry=worked)
        assert (status, err) == (0, f"Figure written to {file}.")
    assert first.read_bytes() == again.read_bytes()


def test_the_figure_hides_a_rate_from_few_and_keeps_its_count(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "few.svg"
    assert run("--kind", "access_sheath", "--figure", str(file))[0] == 0
    assert "M3: 1 of 1" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("--figure", "f.pdf"), 2, "has to end in .png or .svg"),
        (("--kind", "nephroscope", "--figure", "f.png"), 1, "there are 0 groups, and a figure shows 1 to 30"),
        (("--model", "M1", "--figure", "f.png"), 2, "--figure does not go with a search"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_in_a_sentence(
    run: Run, arguments: tuple[str, ...], status: int, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    found, out, err = run(*arguments)
    assert (found, out) == (status, "")
    assert said in err and list(tmp_path.iterdir()) == []
