"""The adapter around the library: every form of expectation, nulls, empty frames, what cannot run, and no socket."""

from __future__ import annotations

import datetime as dt
import socket
from collections.abc import Iterator
from typing import Any

import pandas as pd
import pytest

from registry.schema.tables import clinical_tables
from registry.validation.findings import Severity
from registry.validation.great_expectations_adapter import Expectations, expectations
from registry.validation.quality_check import declared_rules
from registry.validation.suites import Expected, Form

TODAY = dt.date(2026, 1, 1)


@pytest.fixture(scope="module")
def tester() -> Iterator[Expectations]:
    with expectations() as made:
        yield made


def frame(**columns: Any) -> pd.DataFrame:
    rows = len(next(iter(columns.values())))
    return pd.DataFrame({"id": pd.array(range(11, 11 + rows), "Int64"), **columns})


def expected(form: Form, column: str = "x", **more: Any) -> Expected:
    return Expected("table.x.rule", "table", (column,), form, Severity.ERROR, "right", **more)


WHOLE = pd.array([1, 5, None, 900], "Int64")
REAL = pd.array([0.5, 2.0, None, -1.0], "Float64").to_numpy("float64", na_value=float("nan"))
CODE = pd.array(["yes", "no", None, "maybe"], "string")
DAYS = pd.to_datetime(pd.Series(["2024-01-01", "2025-12-31", None, "2026-01-02"])).astype("datetime64[s]")


@pytest.mark.parametrize(
    ("column", "of", "wanted"),
    [
        (WHOLE, expected(Form.BETWEEN, low=1, high=100), (14,)),
        (REAL, expected(Form.BETWEEN, low=0, high=None), (14,)),
        (DAYS, expected(Form.BETWEEN, low=None, high=TODAY), (14,)),
        (CODE, expected(Form.LISTED, allowed=("yes", "no")), (14,)),
        (CODE, expected(Form.LENGTH, low=1, high=3), (14,)),
        (WHOLE, expected(Form.THERE), (13,)),
    ],
    ids=["whole", "real", "day", "code", "length", "there"],
)
def test_the_broken_row_is_named_by_its_key_and_nulls_are_no_breach(
    tester: Expectations, column: Any, of: Expected, wanted: tuple[int, ...]
) -> None:
    verdict = tester.judge(frame(x=column), [of])[of.rule]
    assert (verdict.kept, verdict.rows, verdict.fault) == (False, wanted, "")


def test_what_is_right_is_kept(tester: Expectations) -> None:
    of = expected(Form.BETWEEN, low=0, high=1000)
    assert tester.judge(frame(x=WHOLE), [of])[of.rule].kept is True


@pytest.mark.parametrize(("columns", "wanted"), [(("x",), (11, 12)), (("x", "y"), ())], ids=["one", "several"])
def test_a_key_stands_once(tester: Expectations, columns: tuple[str, ...], wanted: tuple[int, ...]) -> None:
    of = Expected("table.once", "table", columns, Form.ONCE, Severity.ERROR, "right")
    verdict = tester.judge(frame(x=[1, 1, 2], y=[1, 2, 1]), [of])[of.rule]
    assert (verdict.kept, verdict.rows) == (not wanted, wanted)


def test_cases_that_break_a_rule_are_counted(tester: Expectations) -> None:
    of = expected(Form.NO_CASE)
    assert tester.judge(frame(x=[1]), [of])[of.rule].kept is False
    assert tester.judge(frame(x=[1]).iloc[:0], [of])[of.rule].kept is True


def test_a_type_is_that_of_the_declaration(tester: Expectations) -> None:
    of = expected(Form.TYPE, allowed=("int64",))
    assert tester.judge(frame(x=WHOLE), [of])[of.rule].kept is True
    assert tester.judge(frame(x=CODE), [of])[of.rule].kept is False


def test_an_empty_table_has_no_rows(tester: Expectations) -> None:
    of = expected(Form.ROWS)
    assert tester.judge(frame(x=WHOLE).iloc[:0], [of])[of.rule].kept is False


def test_results_are_told_apart_by_rule_and_what_could_not_run_is_neither_kept_nor_broken(tester: Expectations) -> None:
    good = Expected("table.x.good", "table", ("x",), Form.BETWEEN, Severity.ERROR, "", 0, 1000)
    bad = Expected("table.x.bad", "table", ("x",), Form.BETWEEN, Severity.ERROR, "", 0, 100)
    gone = Expected("table.gone.bad", "table", ("gone",), Form.BETWEEN, Severity.ERROR, "", 0, 100)
    verdicts = tester.judge(frame(x=WHOLE), [bad, gone, good])
    assert [verdicts[e.rule].kept for e in (good, bad, gone)] == [True, False, None]
    assert verdicts[gone.rule].fault and verdicts[gone.rule].rows == ()


def test_no_value_of_a_row_leaves_the_adapter(tester: Expectations, caplog: Any, capfd: Any) -> None:
    secret = "Plantedname"
    forms = (
        expected(Form.LISTED, allowed=("a",)),
        expected(Form.BETWEEN, low=0, high=1),
        expected(Form.LENGTH, high=3),
    )
    for of in forms:
        verdict = tester.judge(frame(x=pd.array([secret, "a"], "string")), [of])[of.rule]
        assert secret not in repr(verdict)
    said = capfd.readouterr()
    assert secret not in said.out + said.err + caplog.text
    assert "Calculating" not in said.err  # no progress bar


def test_validation_reaches_for_no_other_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """A library that is imported may make a socket to see whether IPv6 is there; none may look up or reach a host."""
    reached: list[Any] = []

    def refuse(*given: Any, **named: Any) -> Any:
        reached.append((given, named))
        raise OSError("no network here")

    class Deaf(socket.socket):
        connect = connect_ex = sendto = refuse

    monkeypatch.setattr(socket, "socket", Deaf)
    for name in ("create_connection", "getaddrinfo", "gethostbyname"):
        monkeypatch.setattr(socket, name, refuse)
    of = expected(Form.BETWEEN, low=0, high=100)
    with expectations() as fresh:
        assert fresh.judge(frame(x=WHOLE), [of])[of.rule].kept is False
    assert reached == []


def test_every_table_has_a_suite_and_every_rule_its_own_name() -> None:
    declared = declared_rules(TODAY)
    names = [e.rule for e in declared]
    assert len(names) == len(set(names))
    assert max(map(len, names)) <= 80
    tables = [table.name for table in clinical_tables()]
    assert list(dict.fromkeys(e.table for e in declared)) == tables
    assert {e.table for e in declared if e.form is Form.ROWS} == set(tables)
    assert {e.table for e in declared if e.form is Form.ONCE} == set(tables)
    assert "fragment.diameter.low_to_high" in names
