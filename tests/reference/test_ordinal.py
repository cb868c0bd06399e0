"""Proportional odds against other programs.

Housing: Venables WN, Ripley BD, Modern Applied Statistics with S, 4th ed., Springer 2002, section 7.3 (data
MASS::housing; the printed coefficients -0.4961, 0.6907, 0.5664, 1.2888, -0.5724, 0.3603 from memory). Arthritis: Koch
GG, Edwards S, in Biopharmaceutical Statistics for Drug Development, Dekker 1988 (data vcd::Arthritis). Values: R 4.2.2,
ordinal 2022.11.16 clm and nominal_test, MASS 7.3.58.2 polr, Brant's test from the separate binary models.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.design.matrix import Design, design_of
from analysis.design.terms import Term
from analysis.estimators.regression.fitted import Fitted
from analysis.estimators.regression.level_chances import level_chances
from analysis.estimators.regression.ordinal import profile_limits, proportional_odds, slope_places
from analysis.estimators.regression.proportionality import Proportionality, proportionality

DATA = Path(__file__).parent / "data"
TOLERANCE = {"rel": 1e-5, "abs": 1e-6}
OF_PROFILES = {"rel": 3e-5, "abs": 1e-6}  # theirs are read off a spline through the profile, ours are its roots


def levels(values: pd.Series, order: list[str]) -> pd.Series:
    return values.astype(pd.CategoricalDtype(order, ordered=True))


def read(name: str) -> pd.DataFrame:
    return pd.read_csv(DATA / name, keep_default_na=False)  # "None" is a level


def housing() -> pd.DataFrame:
    table = read("housing.csv")
    rows = table.loc[table.index.repeat(table["Freq"])].reset_index(drop=True)
    rows["Infl"] = levels(rows["Infl"], ["Low", "Medium", "High"])
    rows["Type"] = levels(rows["Type"], ["Tower", "Apartment", "Atrium", "Terrace"])
    rows["Cont"] = levels(rows["Cont"], ["Low", "High"])
    return rows


def arthritis() -> pd.DataFrame:
    rows = read("arthritis.csv")
    rows["Treatment"] = levels(rows["Treatment"], ["Placebo", "Treated"])
    rows["Sex"] = levels(rows["Sex"], ["Female", "Male"])
    return rows.astype({"Age": float})


def asked(rows: pd.DataFrame, outcome: str, order: list[str], columns: str) -> tuple[Design, np.ndarray]:
    terms = [Term(column=name, shape="linear" if name == "Age" else "levels") for name in columns.split()]
    return design_of(rows, terms, outcome=outcome), rows[outcome].map(order.index).to_numpy()


def assumption(made: Design, code: np.ndarray, order: list[str]) -> Proportionality:
    terms = {term.column: made.places(term.column) for term in made.terms}
    return proportionality(code, made.x, made.names, levels=order, terms=terms)


SATISFACTION, IMPROVED = ["Low", "Medium", "High"], ["None", "Some", "Marked"]


def fitted(made: Design, code: np.ndarray, order: list[str]) -> Fitted:
    return proportional_odds(code, made.x, made.names, levels=order)


def test_satisfaction_with_housing() -> None:
    made, code = asked(housing(), "Sat", SATISFACTION, "Infl Type Cont")
    fit = fitted(made, code, SATISFACTION)
    expected = [-0.496135138197096, 0.690708259263145, 0.566393737905927, 1.28881911037226, -0.572350002041982]
    assert fit.coefficients == pytest.approx(
        [*expected, -0.366186370688953, -1.0910146589696, 0.360284004569129], **TOLERANCE
    )
    errors = [0.124847242877456, 0.125471937849654, 0.104652781364009, 0.12715614456774, 0.119238008596593]
    assert fit.standard_errors == pytest.approx(
        [*errors, 0.155173332018793, 0.151486018560961, 0.0955357950023719], **TOLERANCE
    )
    assert (fit.n, fit.extra["cuts"]) == (1681, ("at least Medium", "at least High"))
    assert fit.log_likelihood == pytest.approx(-1739.57464952947, **TOLERANCE)
    gain = 2 * (fit.log_likelihood - fit.extra["log_likelihood_alone"])
    assert gain == pytest.approx(169.72832198669, **TOLERANCE)
    rows = pd.DataFrame({"Infl": ["Low", "Medium"], "Type": "Tower", "Cont": "Low"})
    assert level_chances(fit, made.encode(rows), made.names) == pytest.approx(
        np.array(
            [
                [0.378449354608321, 0.287675109418451, 0.333875535973227],
                [0.256826479864083, 0.27421218787702, 0.468961332258896],
            ]
        ),
        **TOLERANCE,
    )


@pytest.mark.parametrize(
    ("place", "low", "high"),
    [
        (1, 0.361641450139999, 0.771953945024992),
        (2, 1.0409699417777, 1.53958145961582),
        (3, -0.806959234981769, -0.33940416220546),
        (4, -0.67058634844681, -0.0620448547276797),
        (5, -1.38938655915012, -0.795339378077439),
        (6, 0.173358818154847, 0.547928720703255),
    ],
)
def test_profile_limits_of_housing(place: int, low: float, high: float) -> None:
    made, code = asked(housing(), "Sat", SATISFACTION, "Infl Type Cont")
    fit = fitted(made, code, SATISFACTION)
    assert profile_limits(code, made.x, fit, place) == pytest.approx((low, high), **OF_PROFILES)


def test_the_assumption_in_housing() -> None:
    made, code = asked(housing(), "Sat", SATISFACTION, "Infl Type Cont")
    found = assumption(made, code, SATISFACTION)
    assert (found.overall.statistic, found.overall.df, found.overall.p) == pytest.approx(
        (8.53449400126957, 6, 0.201499390043401), **TOLERANCE
    )
    statistics = [0.31733826428803, 0.19650447448202, 0.468151854328081, 2.80475234185511, 0.0312259755377324]
    assert [each.statistic for each in found.columns] == pytest.approx([*statistics, 1.28594033535225], **TOLERANCE)
    chances = [0.573211658588464, 0.657557252049329, 0.493838632840486, 0.0939853567651009, 0.859737182624568]
    assert [each.p for each in found.columns] == pytest.approx([*chances, 0.256797445210249], **TOLERANCE)
    assert {each.df for each in found.columns} == {1}
    assert [each.statistic for each in found.terms] == pytest.approx(
        [1.10645301176874, 5.73373705286349, 2.44455265934675], **TOLERANCE
    )
    assert [each.df for each in found.terms] == [2, 3, 1]
    assert [each.p for each in found.terms] == pytest.approx(
        [0.575091278316958, 0.125308052717503, 0.117933501725458], **TOLERANCE
    )


def test_improvement_of_arthritis() -> None:
    made, code = asked(arthritis(), "Improved", IMPROVED, "Treatment Sex Age")
    fit = fitted(made, code, IMPROVED)
    assert fit.coefficients == pytest.approx(
        [2.53198192541658, 3.43097952009262, 1.74530343793474, -1.25168630530992, 0.0381626580571203], **TOLERANCE
    )
    assert fit.standard_errors == pytest.approx(
        [1.05696437586818, 1.0910748685734, 0.475892403997217, 0.546361150930296, 0.0184127840037316], **TOLERANCE
    )
    assert fit.log_likelihood == pytest.approx(-72.7289577221479, **TOLERANCE)
    assert 2 * (fit.log_likelihood - fit.extra["log_likelihood_alone"]) == pytest.approx(24.4580010265392, **TOLERANCE)
    profiles = [(0.8377137470159, 2.7128786206775), (-2.37708265023402, -0.21738765114005)]
    for place, limits in enumerate([*profiles, (0.0031165446731157, 0.0759744119785715)], start=1):
        assert profile_limits(code, made.x, fit, place) == pytest.approx(limits, **OF_PROFILES)
    rows = pd.DataFrame({"Treatment": "Treated", "Sex": "Male", "Age": [27.0, 29.0]})
    assert level_chances(fit, made.encode(rows), made.names) == pytest.approx(
        np.array(
            [
                [0.732623279700757, 0.138055150386984, 0.12932156991226],
                [0.717409450356225, 0.144429132571606, 0.138161417072169],
            ]
        ),
        **TOLERANCE,
    )


def test_the_assumption_in_arthritis() -> None:
    made, code = asked(arthritis(), "Improved", IMPROVED, "Treatment Sex Age")
    found = assumption(made, code, IMPROVED)
    assert (found.overall.statistic, found.overall.df, found.overall.p) == pytest.approx(
        (3.02997176426682, 3, 0.387027164586434), **TOLERANCE
    )
    assert [each.statistic for each in found.columns] == pytest.approx(
        [0.000172260433176104, 1.77325653246319, 1.01741028063941], **TOLERANCE
    )
    assert [each.p for each in found.columns] == pytest.approx(
        [0.989528223595586, 0.182979570464599, 0.313134086430766], **TOLERANCE
    )
    assert [each.statistic for each in found.terms] == pytest.approx(
        [0.165045608987583, 1.75692932522247, 0.5446703097995], **TOLERANCE
    )
    assert [each.p for each in found.terms] == pytest.approx(
        [0.684552999905781, 0.185007985671226, 0.460503617465653], **TOLERANCE
    )


def test_the_library_s_ordered_model_agrees() -> None:
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    made, code = asked(housing(), "Sat", SATISFACTION, "Infl Type Cont")
    ours = fitted(made, code, SATISFACTION)
    theirs = OrderedModel(code, made.x[:, 1:], distr="logit").fit(method="bfgs", disp=0, maxiter=500, gtol=1e-6)
    assert ours.coefficients[slope_places(ours, range(1, 7))] == pytest.approx(theirs.params[:6], rel=1e-4)
    assert ours.log_likelihood == pytest.approx(theirs.llf, rel=1e-9)
