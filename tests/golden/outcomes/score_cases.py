"""Complexity scores worked by hand, each border on both of its sides.

Guy's: Thomas 2011. S.T.O.N.E. nephrolithometry: Okhunov 2013. S-ReSC: Jeong 2013; modified: Jung 2014. Resorlu-Unsal:
2012. R.I.R.S.: Xiao 2017.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tests.golden.outcomes.story_book import Book

NINE = (
    "pelvis;superior_major;inferior_major;superior_anterior;superior_posterior;middle_anterior;middle_posterior;"
    "inferior_anterior;inferior_posterior"
)
Stone = dict[str, Any]
OPEN = "not computable"


@dataclass(frozen=True)
class ScoreCase:
    """value: the score, or None; then state says why and `missing` what is named."""

    score: str
    ref: str
    stones: tuple[Stone, ...]
    value: int | None
    side: tuple[tuple[str, Any], ...] = ()
    anatomy: str | None = "normal"
    spinal: str | None = "no"
    state: str = "computed"
    missing: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return f"{self.score} {self.ref}"


def at(location: str | None, **values: Any) -> Stone:
    return {"location": location, **values}


def guys(ref: str, value: int | None, *stones: Stone, **more: Any) -> ScoreCase:
    return ScoreCase("guys", ref, stones, value, **more)


PELVIS, UPPER, MIDDLE, LOWER = at("pelvis"), at("upper_calyx"), at("middle_calyx"), at("lower_calyx")
GUYS = (
    guys("pelvis", 1, PELVIS),
    guys("middle", 1, MIDDLE),
    guys("lower", 1, LOWER),
    guys("upper", 2, UPPER),
    guys("two", 2, PELVIS, LOWER),
    guys("one-horseshoe", 2, LOWER, anatomy="horseshoe"),
    guys("one-conduit", 2, PELVIS, anatomy="urinary_diversion"),
    guys("two-duplex", 3, PELVIS, LOWER, anatomy="duplex"),
    guys("diverticulum", 3, at("diverticulum")),
    guys("partial", 3, at("partial_staghorn")),
    guys("complete", 4, at("complete_staghorn")),
    guys("spinal", 4, PELVIS, spinal="yes"),
    guys("anatomy-unsaid", None, LOWER, anatomy=None, state=OPEN, missing=("anatomy",)),
    guys("anatomy-no-matter", 4, at("complete_staghorn"), anatomy=None),
    guys("spine-unsaid", None, PELVIS, spinal=None, state=OPEN, missing=("spina bifida or spinal injury",)),
    guys("place-unsaid", None, at("not_said"), state=OPEN, missing=("stone location",)),
    guys("no-stone-row", None, state=OPEN, missing=("stones",)),
    guys("ureter", None, at("proximal_ureter"), state="outside"),
)


def nephro(
    ref: str, value: int | None, *, stone: Stone | None = None, hydro: str | None = "mild", **more: Any
) -> ScoreCase:
    """One lower calyx, 399 mm2, 100 mm deep, mild hydronephrosis, 950 HU: 5 points unless something is said."""
    base = at("lower_calyx", length_mm=20, width_mm=19.95, skin_to_stone_mm=100, attenuation_hu=950)
    side = (("hydronephrosis", hydro),)
    return ScoreCase("stone", ref, ({**base, **(stone or {})},), value, side=side, **more)


STONE = (
    nephro("399", 5),
    nephro("400", 6, stone={"width_mm": 20}),
    nephro("799", 6, stone={"length_mm": 40, "width_mm": 19.975}),
    nephro("800", 7, stone={"length_mm": 40, "width_mm": 20}),
    nephro("1599", 7, stone={"length_mm": 40, "width_mm": 39.975}),
    nephro("1600", 8, stone={"length_mm": 40, "width_mm": 40}),
    nephro("100.1-mm", 6, stone={"skin_to_stone_mm": 100.1}),
    nephro("951-HU", 6, stone={"attenuation_hu": 951}),
    nephro("none", 5, hydro="none"),
    nephro("moderate", 6, hydro="moderate"),
    nephro("severe", 6, hydro="severe"),
    nephro("two-calyces", 5, stone={"site_filled": "superior_anterior;inferior_anterior"}),
    nephro("three-calyces", 6, stone={"site_filled": "superior_anterior;middle_anterior;inferior_anterior"}),
    nephro(
        "most",
        13,
        stone=at(
            "complete_staghorn", length_mm=50, width_mm=40, skin_to_stone_mm=120, attenuation_hu=1200, site_filled=NINE
        ),
        hydro="severe",
    ),
    nephro("no-HU", None, stone={"attenuation_hu": None}, state=OPEN, missing=("attenuation",)),
    nephro("no-width", None, stone={"width_mm": None}, state=OPEN, missing=("stone width",)),
    nephro("no-hydro", None, hydro=None, state=OPEN, missing=("hydronephrosis",)),
    nephro("no-tract", None, stone={"skin_to_stone_mm": None}, state=OPEN, missing=("skin-to-stone distance",)),
)


def sites(score: str, ref: str, value: int | None, *stones: Stone, **more: Any) -> ScoreCase:
    return ScoreCase(score, ref, stones, value, **more)


PARTIAL = at("partial_staghorn", site_filled="pelvis;inferior_major;inferior_anterior")
SITES = (
    sites("s_resc", "pelvis", 1, PELVIS),
    sites("s_resc", "partial", 3, PARTIAL),
    sites("s_resc", "nine", 9, at("complete_staghorn", site_filled=NINE)),
    sites("s_resc", "same-site-twice", 1, PELVIS, PELVIS),
    sites("s_resc", "some-lower-site", 1, LOWER),
    sites("s_resc", "staghorn-unsaid", None, at("partial_staghorn"), state=OPEN, missing=("sites filled",)),
    sites("modified_s_resc", "pelvis", 1, PELVIS),
    sites("modified_s_resc", "some-lower-site", 2, LOWER),
    sites("modified_s_resc", "partial", 5, PARTIAL),
    sites("modified_s_resc", "nine", 12, at("complete_staghorn", site_filled=NINE)),
)


def russ(ref: str, value: int | None, *stones: Stone, angle: int | None = 60, **more: Any) -> ScoreCase:
    side = () if angle is None else (("infundibulopelvic_angle_deg", angle),)
    return ScoreCase("resorlu_unsal", ref, stones, value, side=side, **more)


RUSS = (
    russ("20-mm-45", 0, at("lower_calyx", length_mm=20), angle=45),
    russ("20.1-mm", 1, at("lower_calyx", length_mm=20.1)),
    russ("44-degrees", 1, at("lower_calyx", length_mm=8), angle=44),
    russ("44-degrees-elsewhere", 0, at("upper_calyx", length_mm=8), angle=44),
    russ("two-calyces", 1, at("lower_calyx", length_mm=8), at("upper_calyx", length_mm=8)),
    russ("pelvis-and-calyx", 0, at("lower_calyx", length_mm=8), at("pelvis", length_mm=8)),
    russ("sum-over-20", 1, at("pelvis", length_mm=11), at("pelvis", length_mm=10)),
    russ("horseshoe", 1, at("pelvis", length_mm=8), anatomy="horseshoe"),
    russ("malrotated", 0, at("pelvis", length_mm=8), anatomy="malrotated"),
    russ("most", 4, at("lower_calyx", length_mm=25), at("upper_calyx", length_mm=5), angle=30, anatomy="pelvic"),
    russ(
        "no-angle", None, at("lower_calyx", length_mm=8), angle=None, state=OPEN, missing=("infundibulopelvic angle",)
    ),
    russ("no-angle-needed", 0, at("pelvis", length_mm=8), angle=None),
    russ("no-length", None, at("pelvis"), state=OPEN, missing=("stone length",)),
    russ("21-and-no-length", 1, at("pelvis", length_mm=21), at("pelvis")),
)


def rirs(
    ref: str, value: int | None, *, stone: Stone | None = None, side: Stone | None = None, **more: Any
) -> ScoreCase:
    """In the pelvis, 10 mm, 1000 HU, infundibulum of 25 mm: 4 points unless something is said."""
    of_side = {"infundibular_length_mm": 25, "infundibulopelvic_angle_deg": 60, **(side or {})}
    base = at("pelvis", length_mm=10, attenuation_hu=1000)
    return ScoreCase("rirs", ref, ({**base, **(stone or {})},), value, side=tuple(of_side.items()), **more)


LOW: Stone = {"location": "lower_calyx"}
RIRS = (
    rirs("least", 4),
    rirs("10.1", 5, stone={"length_mm": 10.1}),
    rirs("20", 5, stone={"length_mm": 20}),
    rirs("20.1", 6, stone={"length_mm": 20.1}),
    rirs("1001-HU", 5, stone={"attenuation_hu": 1001}),
    rirs("31-degrees", 5, stone=LOW, side={"infundibulopelvic_angle_deg": 31}),
    rirs("30-degrees", 6, stone=LOW, side={"infundibulopelvic_angle_deg": 30}),
    rirs("25.1-mm", 5, side={"infundibular_length_mm": 25.1}),
    rirs(
        "most",
        10,
        stone={**LOW, "length_mm": 21, "attenuation_hu": 1200},
        side={"infundibulopelvic_angle_deg": 30, "infundibular_length_mm": 26},
    ),
    rirs("no-infundibulum", None, side={"infundibular_length_mm": None}, state=OPEN, missing=("infundibular length",)),
    rirs("no-HU", None, stone={"attenuation_hu": None}, state=OPEN, missing=("attenuation",)),
    rirs(
        "lower-no-angle",
        None,
        stone=LOW,
        side={"infundibulopelvic_angle_deg": None},
        state=OPEN,
        missing=("infundibulopelvic angle",),
    ),
)
CASES = (*GUYS, *STONE, *SITES, *RUSS, *RIRS)
PERCUTANEOUS = ("guys", "stone", "s_resc")


def write(book: Book) -> None:
    for one in CASES:
        person = book.person(one.name, anatomy=one.anatomy)
        technique = "percutaneous" if one.score in PERCUTANEOUS else "flexible"
        person.operation(side={"technique": technique, **dict(one.side)}, spinal_disease=one.spinal)
        for stone in one.stones:
            person.stone(**stone)
