"""Code lists about equipment."""

from registry.schema.codes import CodeList


class EquipmentKind(CodeList):
    """Kind of equipment."""

    SCOPE = "scope", "Flexible ureteroscope"
    SEMIRIGID_SCOPE = "semirigid_scope", "Semirigid ureteroscope"
    NEPHROSCOPE = "nephroscope", "Nephroscope"
    ACCESS_SHEATH = "access_sheath", "Ureteric access sheath"
    PERCUTANEOUS_SHEATH = "percutaneous_sheath", "Percutaneous sheath"
    GUIDEWIRE = "guidewire", "Guidewire"
    RETRIEVAL_DEVICE = "retrieval_device", "Retrieval device"
    LASER_FIBRE = "laser_fibre", "Laser fibre"
    ENERGY_GENERATOR = "energy_generator", "Energy generator"
    IRRIGATION = "irrigation", "Irrigation"
    SUCTION_SOURCE = "suction_source", "Suction source"
    DILATOR = "dilator", "Dilator"
    STENT = "stent", "Stent"
    SHOCK_WAVE_SOURCE = "shock_wave_source", "Shock-wave source"
    PRESSURE_SENSOR = "pressure_sensor", "Pressure sensor"
    OTHER = "other", "Other"


class UseResult(CodeList):
    """How one attempt to use a piece of equipment ended."""

    PASSED = "passed", "Passed and used"
    FAILED = "failed", "Failed: did not pass or did not work"
    EXCHANGED = "exchanged", "Used, then exchanged"
    WITHDRAWN = "withdrawn", "Withdrawn without use"


class UseReason(CodeList):
    """Why an attempt failed or the equipment was exchanged or withdrawn."""

    TIGHT_URETER = "tight_ureter", "Tight ureter"
    TOO_LARGE = "too_large", "Too large"
    TOO_SMALL = "too_small", "Too small"
    TOO_SHORT = "too_short", "Too short"
    BROKEN = "broken", "Broken"
    POOR_IMAGE = "poor_image", "Poor image"
    BLOCKED = "blocked", "Blocked"
    INJURY = "injury", "Injury seen"
    SURGEON_CHOICE = "surgeon_choice", "Surgeon's choice"
    OTHER = "other", "Other"


class FailureStage(CodeList):
    """When equipment failed."""

    OUT_OF_BOX = "out_of_box", "Out of the box"
    SET_UP = "set_up", "Set-up"
    IN_OPERATION = "in_operation", "In the operation"
    WITHDRAWAL = "withdrawal", "On withdrawal"
    REPROCESSING = "reprocessing", "In reprocessing"


class FailureMode(CodeList):
    """What failed."""

    NO_IMAGE = "no_image", "No image"
    IMAGE_LOST = "image_lost", "Image lost"
    DEFLECTION_LOST = "deflection_lost", "Deflection lost"
    DEFLECTION_STUCK = "deflection_stuck", "Deflection stuck"
    CHANNEL_LEAK = "channel_leak", "Channel leak or perforation"
    FIBRE_DAMAGE = "fibre_damage", "Damage by a laser fibre"
    LIGHT = "light", "Light failure"
    SHAFT_FRACTURE = "shaft_fracture", "Shaft fracture"
    PACKAGING = "packaging", "Packaging or sterility"
    CONNECTION = "connection", "Connection"
    OTHER = "other", "Other"


class FailureConsequence(CodeList):
    """What followed from a failure."""

    NONE = "none", "None"
    DELAY = "delay", "Delay"
    REPLACED_SAME = "replaced_same", "Replaced with the same"
    REPLACED_OTHER = "replaced_other", "Replaced with another"
    ABANDONED = "abandoned", "Operation abandoned"
    INJURY = "injury", "Injury of the patient"


class Reportable(CodeList):
    """Whether a failure has to be reported under local law; a person decides."""

    YES = "yes", "Yes"
    NO = "no", "No"
    UNSURE = "unsure", "Unsure"


class DrainKind(CodeList):
    """Kind of drainage left in place."""

    STENT = "stent", "Ureteric stent"
    NEPHROSTOMY = "nephrostomy", "Nephrostomy"
    URETERIC_CATHETER = "ureteric_catheter", "Ureteric catheter"


class RemovalPlace(CodeList):
    """Where a stent was removed."""

    THEATRE = "theatre", "Theatre"
    CLINIC = "clinic", "Clinic"
    WARD = "ward", "Ward"
    HOME = "home", "At home, by the string"
    ELSEWHERE = "elsewhere", "Another hospital"
