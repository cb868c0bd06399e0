"""What the command refuses, each with its sentence, and the unit's own defaults."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.reports.cost.clinic import clinic
from tests.reports.cost.conftest import Run, registry_of
from tests.spec.cost.accounts import price, rate


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--horizon", "0"), "--horizon '0' has to be a whole number from 1 to 365."),
        (("--horizon", "400"), "--horizon '400' has to be a whole number from 1 to 365."),
        (("--minutes", "anaesthetic"), "--minutes 'anaesthetic' is not known; choose one of room, operating."),
        (("--reusable", "lease"), "--reusable 'lease' is not known; choose one of reprocessing, purchase."),
        (("--missing-price", "mean"), "--missing-price 'mean' is not known; choose one of refuse, zero."),
        (("--components", "theatre,food"), "--components 'food' is not known; choose one or more of theatre, "),
        (("--price-year", "24"), "--price-year '24' has to be a whole number from 1970 to 2200."),
        (("--unscanned", "weighted"), "--unscanned 'weighted' is not known; choose one or more of complete, "),
        (("--willing", "500"), "nothing is compared: add --compare"),
        (("--compare", "technique=a,b", "--willing", "-5"), "--willing '-5' has to be a number from 0"),
        (("--compare", "technique=a,b", "--willing", "5,5"), "names an amount twice"),
        (("--compare", "technique"), "write COLUMN=INDEX,COMPARATOR"),
        (("--threshold", "tiny"), "tiny"),
        (("--window", "90:14"), "90:14"),
        (("--level", "95"), "no confidence level"),
        (("--figure", "plane.pdf"), "has to end in .png or .svg"),
        (("--cases", "cases.txt"), "has to end in .csv"),
    ],
)
def test_options_that_cannot_be_read_leave_with_2(run: Run, arguments: tuple[str, ...], said: str) -> None:
    status, out, err = run(*arguments)
    assert (status, out) == (2, "")
    assert said in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--by", "tecnique"), "'tecnique' is no column of the cohort"),
        (("--compare", "technique=robotic,flexible"), "has technique 'robotic', so there is nothing to compare"),
        (("--compare", "technique=flexible,Flexible"), "are one group"),
        (("--as-of", "2023-01-01", "--figure", "none.png"), "there are 0 groups"),
        (("--compare", "technique=percutaneous,flexible", "--threshold", "0,1,2,3", "--figure", "p.png"), "at most 3"),
    ],
)
def test_what_the_registry_cannot_answer_leaves_with_1(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    by = ("--by", "technique") if "none.png" in arguments else ()
    status, out, err = run(*arguments, *by)
    assert (status, out) == (1, "")
    assert said in err
    assert not list(tmp_path.iterdir())


def test_two_currencies_are_refused_by_name(run: Run, tmp_path: Path) -> None:
    rows = clinic()
    price(rows, 2, 900, currency="USD")
    status, out, err = run(registry=registry_of(tmp_path, rows))
    assert (status, out) == (1, "")
    assert "The costs of these courses are in EUR and USD" in err
    assert "make no sum" in err and "--components" in err


def test_two_price_years_are_refused_and_one_may_be_chosen(run: Run, tmp_path: Path) -> None:
    rows = clinic()
    rate(rows, "ct", 150, since=10, price_year=2025)
    location = registry_of(tmp_path, rows)
    status, _, err = run(registry=location)
    assert status == 1
    assert "prices of 2024 and 2025" in err and "--price-year 2025" in err
    status, out, _ = run("--price-year", "2024", registry=location)
    assert status == 0
    assert "of that year alone (asked for" in " ".join(out.split())


def test_a_registry_without_prices_and_rates_says_what_it_lacks(run: Run, tmp_path: Path) -> None:
    rows = clinic()
    rows.tables["cost_rate"], rows.tables["equipment_price"] = [], []
    status, out, _ = run("--threshold", "2", registry=registry_of(tmp_path, rows))
    assert status == 0
    flat = " ".join(out.split())
    assert "nothing was costed, so there is no currency" in flat
    assert "no cost per stone-free case, because no course is in n" in flat
    assert "theatre minutes minutes in the room no rate" in flat


def test_the_units_own_defaults_stand_in_and_are_named(run: Run, tmp_path: Path) -> None:
    rows = clinic(cost_horizon="30", stone_free_threshold="4", stone_free_unit="side", small_number="3")
    status, out, _ = run(registry=registry_of(tmp_path, rows))
    assert status == 0
    flat = " ".join(out.split())
    assert "horizon 30: the unit's own default since 2024-01-01" in flat
    assert "threshold 4: the unit's own default" in flat
    assert flat.count("small number 3: the unit's own default") == 1
    assert "every course of treatment" in flat  # whatever the unit's own unit is


def test_a_setting_that_cannot_be_read_is_named(run: Run, tmp_path: Path) -> None:
    status, _, err = run(registry=registry_of(tmp_path, clinic(cost_horizon="long")))
    assert status == 1
    assert "cost_horizon = long since 2024-01-01" in err


def test_a_setting_for_no_option_is_named(run: Run, tmp_path: Path) -> None:
    status, _, err = run(registry=registry_of(tmp_path, clinic(cost_horizn="30")))
    assert status == 1
    assert "'cost_horizn' stands for no option" in err
