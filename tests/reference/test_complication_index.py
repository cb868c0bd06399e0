"""The comprehensive complication index against published and hand-computed values.

Slankamenac K, Graf R, Barkun J, Puhan MA, Clavien PA, Ann Surg 2013;258:1-7. The six values of a single complication
are published (from memory); the combinations were computed from the weights, by R 4.2.2 and by hand.
"""

from __future__ import annotations

import pytest

from analysis.outcomes.complications.index import WEIGHTS, comprehensive_index


@pytest.mark.parametrize(
    ("grade", "printed", "exact"),
    [
        ("I", "8.7", 8.66025403784439),
        ("II", "20.9", 20.9165006633519),
        ("IIIa", "26.2", 26.2202212042538),
        ("IIIb", "33.7", 33.7268439080801),
        ("IVa", "42.4", 42.4264068711929),
        ("IVb", "46.2", 46.2331050222673),
    ],
)
def test_one_complication_as_published(grade: str, printed: str, exact: float):
    found = comprehensive_index([grade])
    assert f"{found:.1f}" == printed
    assert found == pytest.approx(exact, abs=1e-9)


@pytest.mark.parametrize(
    ("grades", "exact"),
    [
        (["I", "II"], 22.6384628453435),
        (["II", "II"], 29.5803989154981),
        (["I", "I", "I"], 15),
        (["IIIa", "II", "I"], 34.6410161513775),
        (["IIIb", "IIIb"], 47.6969600708473),
        (["IVa", "IIIb", "II", "II"], 61.7454451761423),
        ([], 0),
        (["II", "V"], 100),
    ],
)
def test_combinations_computed_by_another_program(grades: list[str], exact: float):
    assert comprehensive_index(grades) == pytest.approx(exact, abs=1e-9)


@pytest.mark.parametrize(
    ("grades", "two_decimals"),
    [
        (["I", "I"], "12.25"),
        (["I", "II", "IIIb"], "40.62"),
        (["II", "IVa"], "47.30"),
        (["IVb"] * 4, "92.47"),
        (["IVb"] * 5, "100.00"),  # the cap: 42,750 weighs more than 40,000
    ],
)
def test_combinations_by_hand(grades: list[str], two_decimals: str):
    assert f"{comprehensive_index(grades):.2f}" == two_decimals


def test_the_weights():
    assert WEIGHTS == {"I": 300, "II": 1750, "IIIa": 2750, "IIIb": 4550, "IVa": 7200, "IVb": 8550}


def test_what_is_no_grade_is_refused():
    with pytest.raises(ValueError, match="'III' is no grade"):
        comprehensive_index(["I", "III"])
