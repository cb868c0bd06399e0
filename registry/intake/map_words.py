"""A heading taken apart: its words in one spelling, its number, side, unit and size."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

# What a unit's people write in headings, and the one spelling used here. A value may be several words.
ABBREVIATIONS: dict[str, str] = {
    "op": "operation", "ops": "operation", "opn": "operation", "surgery": "operation", "procedure": "procedure",
    "proc": "procedure", "dt": "date", "no": "number", "nr": "number", "num": "number", "nos": "number",
    "hosp": "hospital", "pt": "patient", "pat": "patient", "pts": "patient", "patients": "patient",
    "mrn": "hospital number", "urn": "hospital number", "dob": "birth date",
    "born": "birth date", "birthdate": "birth date", "birthday": "birth date", "preop": "preoperative",
    "pre": "preoperative", "post": "postoperative",
    "preoperatively": "preoperative", "postop": "postoperative", "postoperatively": "postoperative",
    "fu": "followup", "fup": "followup", "loc": "location", "locn": "location", "site": "location",
    "fluoro": "fluoroscopy", "xray": "fluoroscopy", "screening": "fluoroscopy", "abx": "antibiotic",
    "antibiotics": "antibiotic", "surg": "surgeon", "anaes": "anaesthesia", "anaesth": "anaesthesia",
    "anesthesia": "anaesthesia", "anaesthetic": "anaesthesia", "anesthetic": "anaesthesia", "hu": "attenuation",
    "hounsfield": "attenuation", "density": "attenuation", "uas": "access sheath", "los": "length stay",
    "ht": "height", "wt": "weight", "comments": "comment", "remarks": "comment", "remark": "comment",
    "comment": "comment", "notes": "note", "creat": "creatinine", "cr": "creatinine", "hb": "haemoglobin",
    "hgb": "haemoglobin", "hemoglobin": "haemoglobin", "wcc": "white cells", "wbc": "white cells",
    "crp": "c reactive protein", "egfr": "egfr", "ssd": "skin stone distance", "ipa": "infundibulopelvic angle",
    "dj": "stent", "djs": "stent", "jj": "stent", "stents": "stent", "sfr": "stonefree", "sf": "stonefree",
    "dap": "dose area product", "asst": "assistant", "consultant": "consultant", "complications": "complication",
    "comps": "complication", "diam": "diameter", "dia": "diameter", "ncct": "ct", "ctkub": "ct", "us": "ultrasound",
    "uss": "ultrasound", "mins": "min", "minutes": "min", "minute": "min", "yrs": "years", "year": "years",
    "yr": "years", "gender": "sex", "laterality": "side", "surname": "surname", "lastname": "surname",
    "lname": "surname", "firstname": "forename", "fname": "forename", "forenames": "forename",
    "energysource": "energy source", "freq": "frequency", "dm": "diabetes", "ihd": "ischaemic heart disease",
    "ckd": "chronic kidney disease", "grading": "grade", "clavien": "clavien", "dindo": "clavien",
    "stones": "stone", "calculus": "stone", "calculi": "stone", "residuals": "residual", "fragments": "fragment",
    "frag": "fragment", "rf": "residual fragment", "depth": "depth", "dimension": "size", "dimensions": "size",
    "lgth": "length", "len": "length", "hydro": "hydronephrosis",
    "prestented": "stent before", "prestent": "stent before", "duration": "time", "discharged": "discharge",
    "admitted": "admission", "adm": "admission", "disch": "discharge", "id": "id", "ident": "id",
    "scanned": "scan", "imaging": "scan",
}  # fmt: skip
# Words that say nothing about which field a column holds.
EMPTY_WORDS = frozenset(
    (
        "of",
        "the",
        "at",
        "in",
        "on",
        "for",
        "a",
        "an",
        "and",
        "by",
        "to",
        "from",
        "was",
        "is",
        "per",
        "y",
        "n",
        "yesno",
        "with",
        "used",
        "details",
        "data",
    )
)
BEFORE_WORDS = frozenset(
    (
        "preoperative",
        "before",
        "baseline",
        "previous",
        "prior",
        "initial",
    )
)
AFTER_WORDS = frozenset(
    (
        "postoperative",
        "followup",
        "after",
        "residual",
        "review",
        "later",
    )
)
SIDE_WORDS = {"left": "left", "right": "right", "lt": "left", "rt": "right", "lk": "left", "rk": "right"}
_PERIOD = frozenset(
    (
        "mm",
        "cm",
        "m",
        "month",
        "months",
        "mth",
        "mo",
        "w",
        "wk",
        "week",
        "weeks",
        "d",
        "day",
        "days",
        "h",
        "hr",
        "min",
        "fr",
        "f",
        "ch",
        "yr",
        "year",
        "years",
    )
)
_ORDINAL = frozenset(("st", "nd", "rd", "th"))
_BRACKET = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_SIZE = re.compile(r"(<=|=<|≤|<|up to|to|under|below)?\s*(\d+(?:[.,]\d+)?)\s*mm\b", re.IGNORECASE)
_LATER = re.compile(
    r"(?<![\d.,])\d{1,2}\s*-?\s*(?:months?|mths?|mo|m|weeks?|wks?|w)\b|(?<!\d)\d{1,2}/(?:12|52)\b", re.IGNORECASE
)
_WORD = re.compile(r"[a-zåäöüéèßµ]+|\d+(?:[.,]\d+)?|#|%|°", re.IGNORECASE)


@dataclass(frozen=True)
class Heading:
    """A heading in parts.

    Attributes:
        text: as it stands in the log.
        words: its words in one spelling, without number, side, unit and words that say nothing.
        number: the number that tells repeated columns apart; None where there is none.
        pattern: the heading with ``{n}`` in place of that number.
        side: the kidney it speaks of; empty where it says none.
        letter: a lone L or R that may be a side.
        unit: the unit it names, as written; empty where it names none.
        size_mm: a size that it states, as in "stone free (<= 2 mm)".
        below: the size is meant strictly below.
    """

    text: str
    words: frozenset[str]
    last: frozenset[str] = field(default_factory=frozenset)
    number: int | None = None
    pattern: str = ""
    side: str = ""
    letter: str = ""
    unit: str = ""
    size_mm: float | None = None
    below: bool = False

    @property
    def before(self) -> bool:
        """It speaks of the time before the operation."""
        return bool(self.words & BEFORE_WORDS)

    @property
    def after(self) -> bool:
        """It speaks of the time after the operation."""
        return bool(self.words & AFTER_WORDS)


def read_heading(text: str, units: frozenset[str]) -> Heading:
    """Take a heading apart.

    Args:
        text: the heading; two heading rows are joined by `` / ``.
        units: the spellings, folded, that count as units.
    """
    line = " ".join(text.split())
    size = (
        _SIZE.search(line) if re.search(r"\b(?:sfr?|stone[ -]?free|free|residuals?)\b", line, re.IGNORECASE) else None
    )
    bare = line[: size.start()] + line[size.end() :] if size else line
    bare, unit = _without_unit(bare, units)
    number, pattern = _numbered(bare, line)
    tokens = [t.casefold() for t in _WORD.findall(_joined(_LATER.sub(" ", bare)))]
    sides = [SIDE_WORDS[t] for t in tokens if t in SIDE_WORDS]
    letters = [t for t in tokens if t in ("l", "r")]
    words = _meaning(tokens) | _implied(bare, unit)
    last = _meaning([t.casefold() for t in _WORD.findall(_joined(bare.rpartition(" / ")[2]))])
    return Heading(
        text,
        words,
        last,
        number,
        pattern,
        sides[0] if len(set(sides)) == 1 else "",
        letters[0] if len(letters) == 1 and not sides else "",
        unit,
        float(size.group(2).replace(",", ".")) if size else None,
        bool(size and size.group(1) and size.group(1).casefold() in ("<", "under", "below")),
    )


def _implied(line: str, unit: str) -> frozenset[str]:
    """Words that a unit or a length of time stands for: HU is an attenuation, "3 months" a time after."""
    found = {"attenuation"} if _plain(unit) in ("hu", "hounsfield") else set()
    return frozenset(found | ({"followup"} if _LATER.search(line) else set()))


def _joined(text: str) -> str:
    """Words that are written apart or with marks made one: "pre-op", "f/u", "stone-free", "X-ray"."""
    folded = text.replace("_", " ")
    folded = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])", " ", folded).casefold()
    for pattern, word in (
        (r"\bpre[ -]?op\w*", "preop"), (r"\bpost[ -]?op\w*", "postop"), (r"\bf/u\b|\bfollow[ -]?up\b", "followup"),
        (r"\bstone[ -]?free\b(?: rate| status)?|\bsf[ -]?(?:rate|status)\b|\bsfr\b", "stonefree"),
        (r"\bx[ -]?ray\b", "xray"), (r"\bd\.?o\.?b\.?(?!\w)", "dob"), (r"\bpre[ -]stent(?:ed|ing)?\b", "prestent"),
        (r"\bdate of birth\b", "dob"), (r"\bfirst name\b", "firstname"), (r"\bfamily name\b|\blast name\b", "surname"),
        (r"\bgiven names?\b", "firstname"), (r"\b1st\b", "first"), (r"\b2nd\b", "second"),
        (r"\by/n\b|\byes/no\b|\(y\)", " "), (r"\bct[ -]kub\b", "ct"),
        (r"\blower[ -]pole\b", "lower pole"), (r"\bstart[ -]?time\b", "start"), (r"\bend[ -]?time\b", "end"),
    ):  # fmt: skip
        folded = re.sub(pattern, word, folded)
    return folded


def _meaning(tokens: list[str]) -> frozenset[str]:
    words: set[str] = set()
    for token in tokens:
        if token in SIDE_WORDS or token in ("l", "r") or token[0].isdigit() or token in EMPTY_WORDS:
            continue
        words.update(ABBREVIATIONS.get(token, "number" if token == "#" else token).split())
    return frozenset(words)


def _without_unit(line: str, units: frozenset[str]) -> tuple[str, str]:
    """The heading without its unit, and the unit: within brackets anywhere, else the last word."""
    for found in _BRACKET.finditer(line):
        if (inner := found.group(1).strip()) and _plain(inner) in units and _plain(inner) not in ("l", "r"):
            return (line[: found.start()] + " " + line[found.end() :]).strip(), inner
    head, _, tail = line.replace("_", " ").rpartition(" ")
    if (
        head
        and _plain(tail.strip(",;:")) in units
        and _plain(tail) not in ("l", "r", "d", "m", "in", "s", "c", "g", "w")
    ):
        return head.strip(" ,"), tail.strip(",;:")
    return line, ""


def _plain(text: str) -> str:
    from registry.intake.units import spelled

    return spelled(text)


def _numbered(bare: str, line: str) -> tuple[int | None, str]:
    """The one small whole number that counts repeated columns, and the heading with ``{n}`` in its place."""
    found = []
    for match in re.finditer(r"(?<![\d.,])\d{1,2}(?![\d.,]*\d)", bare):
        following = re.match(r"\s*-?\s*([a-zA-Z]+)", bare[match.end() :])
        if following and following.group(1).casefold() in _PERIOD | _ORDINAL:
            continue
        found.append(match)
    if len(found) != 1 or not 1 <= int(found[0].group()) <= 20:
        return None, ""
    digits = found[0].group()
    places = [m.start() for m in re.finditer(rf"(?<!\d){digits}(?!\d)", line)]
    if len(places) != 1:
        return None, ""
    return int(digits), line[: places[0]] + "{n}" + line[places[0] + len(digits) :]
