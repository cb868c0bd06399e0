"""What people write for a code: the list's own spellings first, then the short forms of the trade listed here."""

from __future__ import annotations

from registry.intake.values import spellings
from registry.schema.codes import CodeList

# Only what can mean one thing within its list: "P" or "U" for a place is left to a person.
SHORT_FORMS: dict[str, dict[str, str]] = {
    "YesNo": {"y": "yes", "n": "no", "true": "yes", "false": "no", "x": "yes", "+": "yes", "✓": "yes"},
    "Sex": {"m": "male", "f": "female", "w": "female", "man": "male", "woman": "female"},
    "RenalUnitKind": {"l": "left", "r": "right", "lt": "left", "rt": "right", "li": "left", "re": "right",
                      "lhs": "left", "rhs": "right", "tx": "transplant"},
    "StoneLocation": {
        "lp": "lower_calyx", "lower pole": "lower_calyx", "lower": "lower_calyx", "mp": "middle_calyx",
        "mid pole": "middle_calyx", "middle pole": "middle_calyx", "interpolar": "middle_calyx",
        "midpole": "middle_calyx", "up": "upper_calyx", "upper pole": "upper_calyx", "upper": "upper_calyx",
        "rp": "pelvis", "renal pelvis": "pelvis", "puj": "junction", "upj": "junction", "lc": "lower_calyx",
        "uc": "upper_calyx", "mc": "middle_calyx", "vuj": "vesicoureteric_junction", "uvj": "vesicoureteric_junction",
        "upper ureter": "proximal_ureter", "lower ureter": "distal_ureter", "mid ureter": "middle_ureter",
        "prox ureter": "proximal_ureter", "dist ureter": "distal_ureter",
    },
    "AsaClass": {"i": "1", "ii": "2", "iii": "3", "iv": "4", "v": "5", "asa 1": "1", "asa 2": "2", "asa 3": "3",
                 "asa 4": "4", "asa i": "1", "asa ii": "2", "asa iii": "3", "asa iv": "4"},
    "Technique": {
        "rirs": "flexible", "furs": "flexible", "fursl": "flexible", "flexible urs": "flexible",
        "flexi urs": "flexible",
        "flex urs": "flexible", "flexible ureterorenoscopy": "flexible", "pcnl": "percutaneous", "pnl": "percutaneous",
        "mini pcnl": "mini_percutaneous", "mini-pcnl": "mini_percutaneous", "minipcnl": "mini_percutaneous",
        "mini-perc": "mini_percutaneous", "mpcnl": "mini_percutaneous", "eswl": "shock_wave", "swl": "shock_wave",
        "semirigid urs": "semirigid", "srurs": "semirigid", "rigid urs": "semirigid", "ecirs": "combined",
    },
    "Anaesthesia": {"ga": "general", "sa": "spinal", "la": "local", "general anaesthetic": "general"},
    "Severity": {"nil": "none", "mod": "moderate", "0": "none"},
    "Modality": {"ncct": "ct", "ct kub": "ct", "ctkub": "ct", "ct-kub": "ct", "uss": "ultrasound", "us": "ultrasound",
                 "usg": "ultrasound", "x-ray kub": "kub", "xr kub": "kub"},
    "ExitStrategy": {"dj": "stent", "jj": "stent", "djs": "stent", "jj stent": "stent", "dj stent": "stent",
                     "nephrostomy": "nephrostomy", "none": "none", "nil": "none", "stent on string": "stent_on_string"},
    "EnergySource": {"ho:yag": "holmium_laser", "ho yag": "holmium_laser", "holmium": "holmium_laser",
                     "hol": "holmium_laser", "tfl": "thulium_fibre_laser", "thulium fibre": "thulium_fibre_laser",
                     "tm fibre": "thulium_fibre_laser"},
    "CultureResult": {"pos": "positive", "neg": "negative", "ng": "negative", "no growth": "negative"},
    "Urgency": {"el": "elective", "em": "emergency", "emerg": "emergency"},
    "StoneHistory": {"first": "first", "1st": "first", "recurrent": "recurrent", "rec": "recurrent"},
    "ClavienDindo": {"1": "I", "2": "II", "3a": "IIIa", "3b": "IIIb", "4a": "IVa", "4b": "IVb", "5": "V"},
    "OperatorGrade": {"cons": "consultant"},
    "Specimen": {"msu": "urine"},
}  # fmt: skip


def code_for(codes: type[CodeList], typed: str) -> tuple[str | None, bool]:
    """The code that a wording stands for, and whether the list itself knows the wording.

    Args:
        codes: the list.
        typed: what stands in the cell.
    """
    folded = " ".join(typed.replace("\u00a0", " ").split()).casefold()
    own = spellings(codes).get(folded)
    if own is not None:
        return own, True
    meant = SHORT_FORMS.get(codes.__name__, {})
    code = meant.get(folded) or meant.get(folded.replace("-", " ").replace(".", "").strip())
    return (code, False) if code in codes.codes() else (None, False)
