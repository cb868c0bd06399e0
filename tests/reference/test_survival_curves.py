"""Kaplan-Meier, log-rank and restricted means against other programs.

Catheters: Nahman NS et al, J Am Soc Nephrol 1992;3:103-107, in Klein JP, Moeschberger ML, Survival Analysis, 2nd ed.,
Springer 2003, section 1.4 (KMsurv::kidney). Lung cancer: Kalbfleisch JD, Prentice RL, The Statistical Analysis of
Failure Time Data, Wiley 1980, appendix (survival::veteran). Biliary cirrhosis: Fleming TR, Harrington DP, Counting
Processes and Survival Analysis, Wiley 1991, appendix D (the 312 randomised of survival::pbc). Values: R 4.2.2 with
survival 3.5.3 (survfit, survdiff), computed by others.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from analysis.estimators.survival.kaplan_meier import Band, by_group, survival_at, time_to
from analysis.estimators.survival.log_rank import log_rank
from analysis.estimators.survival.restricted_mean import restricted_mean, restricted_mean_contrasts

DATA = Path(__file__).parent / "data"
CATHETERS = pd.read_csv(DATA / "catheter_infection.csv")
LUNG = pd.read_csv(DATA / "veteran.csv")
CIRRHOSIS = pd.read_csv(DATA / "biliary_cirrhosis.csv")
TIMES = (2.5, 5.5, 10.5, 15.5)
SURGICAL, PERCUTANEOUS = "1", "2"

SURVIVAL = {
    SURGICAL: [0.976744186046512, 0.872163495419309, 0.727622217951182, 0.624726146725762],
    PERCUTANEOUS: [0.888157894736842, 0.870032223415682, 0.84517415988952, 0.784804577040268],
}
ERROR = {
    SURGICAL: [0.022983806772175, 0.0535915344556989, 0.0798730171263763, 0.0976031734943524],
    PERCUTANEOUS: [0.0375680838010121, 0.040941143585689, 0.0467122292317144, 0.07256453910925],
}
AT_RISK = {SURGICAL: [42, 33, 20, 11], PERCUTANEOUS: [56, 40, 25, 14]}
LIMITS: dict[tuple[str, Band], tuple[list[float], list[float]]] = {
    (SURGICAL, "log"): (
        [0.932719758896868, 0.773204570885684, 0.586769194149423, 0.45994241150083],
        [1, 0.983787721108144, 0.902286788971023, 0.848547010764443],
    ),
    (SURGICAL, "loglog"): (
        [0.846155411883414, 0.718978673324399, 0.534978273368422, 0.405771586249098],
        [0.996691048476392, 0.94487274317977, 0.850752196647859, 0.782414599544525],
    ),
    (SURGICAL, "plain"): (
        [0.931696752545421, 0.767126018009902, 0.571073981046934, 0.433427441900017],
        [1, 0.977200972828717, 0.88417045485543, 0.816024851551507],
    ),
    (PERCUTANEOUS, "log"): (
        [0.817495383852301, 0.793378286652471, 0.758404413648113, 0.654723300552993],
        [0.964928318330295, 0.954092243909884, 0.941871312574385, 0.940730570644327],
    ),
    (PERCUTANEOUS, "loglog"): (
        [0.787728626205793, 0.763354122775034, 0.725942186384585, 0.599357894924044],
        [0.942746967617138, 0.930733487252518, 0.915445285262118, 0.891625355798346],
    ),
    (PERCUTANEOUS, "plain"): (
        [0.814525803518676, 0.789789056501849, 0.75361987295778, 0.64258069383139],
        [0.961789985955009, 0.950275390329515, 0.936728446821259, 0.927028460249146],
    ),
}


@pytest.mark.parametrize(("group", "band"), LIMITS, ids=str)
def test_catheters(group: str, band: Band) -> None:
    curve = by_group(CATHETERS["time"], CATHETERS["delta"], CATHETERS["type"], band=band)[group]
    found = survival_at(curve, TIMES)
    assert [one.survival for one in found] == pytest.approx(SURVIVAL[group], rel=1e-7)
    assert [one.standard_error for one in found] == pytest.approx(ERROR[group], rel=1e-7)
    assert [one.at_risk for one in found] == AT_RISK[group]
    low, high = LIMITS[group, band]
    assert [one.low for one in found] == pytest.approx(low, rel=1e-7)
    assert [one.high for one in found] == pytest.approx(high, rel=1e-7)


@pytest.mark.parametrize(("band", "low"), [("log", 15.5), ("loglog", 11.5)])
def test_medians_of_catheters(band: Band, low: float) -> None:
    curves = by_group(CATHETERS["time"], CATHETERS["delta"], CATHETERS["type"], band=band)
    median = time_to(curves[SURGICAL])
    assert (median.estimate, median.low, median.high) == (18.5, low, None)
    never = time_to(curves[PERCUTANEOUS])
    assert (never.estimate, never.low, never.high) == (None, None, None)
    assert never.reason == "fewer than 50 % had the event by 28.5"


def test_log_rank_of_catheters() -> None:
    """Printed as 2.53 in Klein and Moeschberger, example 7.2 (from memory)."""
    found = log_rank(CATHETERS["time"], CATHETERS["delta"], CATHETERS["type"])
    assert (found.statistic, found.p) == pytest.approx((2.52950631756202, 0.111735169713246), rel=1e-7)
    assert found.observed == (15, 11)
    assert found.expected == pytest.approx((11.0364483844763, 14.9635516155237), rel=1e-7)
    early = log_rank(CATHETERS["time"], CATHETERS["delta"], CATHETERS["type"], rho=1)
    assert (early.statistic, early.p) == pytest.approx((1.3865227819274, 0.238993197299077), rel=1e-7)


def test_log_rank_within_strata() -> None:
    found = log_rank(LUNG["time"], LUNG["status"], LUNG["trt"], strata=LUNG["celltype"])
    assert (found.statistic, found.p) == pytest.approx((0.701743346844319, 0.402198523780674), rel=1e-7)
    assert found.expected == pytest.approx((68.2075529768725, 59.7924470231275), rel=1e-7)
    assert (found.observed, found.strata) == ((64, 64), 4)
    early = log_rank(LUNG["time"], LUNG["status"], LUNG["trt"], strata=LUNG["celltype"], rho=1)
    assert (early.statistic, early.p) == pytest.approx((1.00967958007588, 0.314979613939845), rel=1e-7)


def test_restricted_means_of_catheters() -> None:
    curves = by_group(CATHETERS["time"], CATHETERS["delta"], CATHETERS["type"])
    one, other = (restricted_mean(curves[name], 20) for name in (PERCUTANEOUS, SURGICAL))
    assert (one.estimate, one.standard_error) == pytest.approx((16.9785478638287, 0.837304583326216), rel=1e-7)
    assert (other.estimate, other.standard_error) == pytest.approx((15.46535343479, 1.0401677203486), rel=1e-7)
    found = restricted_mean_contrasts(one, other)
    gap, ratio = found["difference"], found["ratio"]
    assert (gap.estimate, gap.standard_error) == pytest.approx((1.51319442903871, 1.33530065966969), rel=1e-7)
    assert (gap.low, gap.high, gap.p) == pytest.approx(
        (-1.10394677244645, 4.13033563052388, 0.257120300386308), rel=1e-7
    )
    assert (ratio.estimate, ratio.low, ratio.high) == pytest.approx(
        (1.09784415438154, 0.932287935798603, 1.29279993983542), rel=1e-7
    )


def test_restricted_means_of_cirrhosis() -> None:
    """Printed as -0.137 (-0.939 to 0.665) in the vignette of survRM2 (Uno H et al; from memory)."""
    curves = by_group(CIRRHOSIS["time"], CIRRHOSIS["event"], CIRRHOSIS["arm"])
    one, other = (restricted_mean(curves[name], 10) for name in ("1", "0"))
    assert (one.estimate, one.standard_error) == pytest.approx((7.14649299629878, 0.282774849563295), rel=1e-6)
    found = restricted_mean_contrasts(one, other)
    gap, ratio = found["difference"], found["ratio"]
    assert (gap.estimate, gap.low, gap.high, gap.p) == pytest.approx(
        (-0.136922764869477, -0.938519086306201, 0.664673556567246, 0.737786087538584), rel=1e-6
    )
    assert (ratio.estimate, ratio.low, ratio.high) == pytest.approx(
        (0.98120074847306, 0.878052435802274, 1.09646630377425), rel=1e-6
    )
    assert (round(gap.estimate, 3), round(gap.low, 3), round(gap.high, 3)) == (-0.137, -0.939, 0.665)
