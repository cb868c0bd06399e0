"""Code lists about complications, follow-up and the office."""

from registry.schema.codes import CodeList


class ComplicationKind(CodeList):
    """Adverse events after or in an operation."""

    FEVER = "fever", "Fever"
    URINARY_INFECTION = "urinary_infection", "Urinary infection"
    FEBRILE_URINARY_INFECTION = "febrile_urinary_infection", "Febrile urinary infection"
    SEPSIS = "sepsis", "Sepsis"
    SEPTIC_SHOCK = "septic_shock", "Septic shock"
    BLEEDING = "bleeding", "Bleeding"
    CLOT_RETENTION = "clot_retention", "Clot retention"
    HAEMATOMA = "haematoma", "Perirenal haematoma"
    COLIC = "colic", "Colic"
    OBSTRUCTION = "obstruction", "Obstruction"
    STEINSTRASSE = "steinstrasse", "Column of fragments in the ureter"
    STENT_SYMPTOMS = "stent_symptoms", "Stent symptoms"
    STENT_MIGRATION = "stent_migration", "Stent migrated or blocked"
    URINARY_RETENTION = "urinary_retention", "Urinary retention"
    URETERIC_INJURY = "ureteric_injury", "Injury of the ureter"
    URINOMA = "urinoma", "Urine leak or urinoma"
    ADJACENT_ORGAN = "adjacent_organ", "Injury of another organ"
    ACUTE_KIDNEY_INJURY = "acute_kidney_injury", "Acute kidney injury"
    THROMBOSIS = "thrombosis", "Deep vein thrombosis"
    PULMONARY_EMBOLISM = "pulmonary_embolism", "Pulmonary embolism"
    CARDIAC = "cardiac", "Cardiac event"
    CEREBROVASCULAR = "cerebrovascular", "Cerebrovascular event"
    PULMONARY = "pulmonary", "Pneumonia or other pulmonary event"
    DRUG_REACTION = "drug_reaction", "Drug reaction"
    WOUND = "wound", "Wound problem"
    OTHER = "other", "Other"


class TherapyKind(CodeList):
    """What was done about a complication.

    Source: Dindo, Demartines, Clavien, Ann Surg 2004;240:205-213, the therapies that its grades turn on
    """

    NONE = "none", "Observation only"
    ANTIEMETIC = "antiemetic", "Antiemetic"
    ANTIPYRETIC = "antipyretic", "Antipyretic"
    ANALGESIC = "analgesic", "Analgesic"
    DIURETIC = "diuretic", "Diuretic"
    FLUIDS = "fluids", "Intravenous fluids or electrolytes"
    PHYSIOTHERAPY = "physiotherapy", "Physiotherapy"
    BEDSIDE_WOUND = "bedside_wound", "Wound opened at the bedside"
    URETHRAL_CATHETER = "urethral_catheter", "Urethral catheter or bladder washout on the ward"
    ANTIBIOTIC = "antibiotic", "Antibiotic, to treat"
    PROLONGED_PROPHYLAXIS = "prolonged_prophylaxis", "Prophylaxis prolonged, no infection"
    ALPHA_BLOCKER = "alpha_blocker", "Alpha-blocker"
    ANTICOAGULANT = "anticoagulant", "Anticoagulant"
    VASOPRESSOR = "vasopressor", "Vasopressor"
    OTHER_DRUG = "other_drug", "Another drug"
    TRANSFUSION = "transfusion", "Blood transfusion"
    PARENTERAL_NUTRITION = "parenteral_nutrition", "Parenteral nutrition"
    STENT_PLACED = "stent_placed", "Stent placed or changed"
    NEPHROSTOMY_PLACED = "nephrostomy_placed", "Nephrostomy placed"
    URETEROSCOPY = "ureteroscopy", "Ureteroscopy"
    CLOT_EVACUATION = "clot_evacuation", "Clot evacuation"
    EMBOLISATION = "embolisation", "Embolisation"
    DRAINAGE = "drainage", "Percutaneous drainage of a collection"
    LAPAROSCOPY = "laparoscopy", "Laparoscopy"
    OPEN_SURGERY = "open_surgery", "Open surgery"
    OTHER_INTERVENTION = "other_intervention", "Another intervention"
    INTERMEDIATE_CARE = "intermediate_care", "Intermediate care"
    INTENSIVE_CARE = "intensive_care", "Intensive care"
    VENTILATION = "ventilation", "Ventilation"
    DIALYSIS = "dialysis", "Dialysis or filtration"


class TherapyAnaesthesia(CodeList):
    """Anaesthesia for the therapy."""

    NONE = "none", "None"
    LOCAL = "local", "Local"
    SEDATION = "sedation", "Sedation"
    REGIONAL = "regional", "Spinal or other regional"
    GENERAL = "general", "General"


class GraderKind(CodeList):
    """Who graded."""

    FIRST = "first", "First grader"
    SECOND = "second", "Second grader"
    AGREED = "agreed", "Agreed grade"


class ClavienDindo(CodeList):
    """Grade of a complication.

    Source: Dindo, Demartines, Clavien, Ann Surg 2004;240:205-213
    """

    I = "I", "I"  # noqa: E741
    II = "II", "II"
    IIIA = "IIIa", "IIIa"
    IIIB = "IIIb", "IIIb"
    IVA = "IVa", "IVa"
    IVB = "IVb", "IVb"
    V = "V", "V"


class LaterEvent(CodeList):
    """What happened after discharge, wherever."""

    UNPLANNED_ATTENDANCE = "unplanned_attendance", "Unplanned attendance"
    STONE_EPISODE = "stone_episode", "Stone episode: colic or infection with a stone"
    FRAGMENT_PASSED = "fragment_passed", "Fragment passed"
    RETREATMENT = "retreatment", "Stone treatment elsewhere"
    REGROWTH = "regrowth", "Regrowth"
    NEW_STONE = "new_stone", "New stone"
    STRICTURE = "stricture", "Ureteric stricture"
    LOSS_OF_KIDNEY = "loss_of_kidney", "Loss of the kidney"
    LOST_TO_FOLLOW_UP = "lost_to_follow_up", "Lost to follow-up"
    OTHER = "other", "Other"


class ContactMethod(CodeList):
    """How later course was learnt."""

    RECORD_REVIEW = "record_review", "Record review"
    CLINIC = "clinic", "Clinic"
    TELEPHONE = "telephone", "Telephone"
    LETTER = "letter", "Letter or message"


class ListLineState(CodeList):
    """What became of a line of a theatre list."""

    OPEN = "open", "Not settled"
    MATCHED = "matched", "Matched to an operation"
    CANCELLED = "cancelled", "Cancelled"
    NOT_STONE = "not_stone", "Not a stone case"


class CostItem(CodeList):
    """What a rate is for."""

    THEATRE_MINUTE = "theatre_minute", "Theatre minute"
    BED_DAY = "bed_day", "Bed day"
    INTENSIVE_CARE_DAY = "intensive_care_day", "Intensive-care day"
    CLINIC_VISIT = "clinic_visit", "Clinic visit"
    EMERGENCY_VISIT = "emergency_visit", "Emergency visit"
    CT = "ct", "CT"
    ULTRASOUND = "ultrasound", "Ultrasound"
    KUB = "kub", "Plain film"
    STENT_REMOVAL = "stent_removal", "Stent removal"
    REPROCESSING = "reprocessing", "Reprocessing of a scope"
    DRUG = "drug", "Drug"
    OTHER = "other", "Other"


class LocalKind(CodeList):
    """Kind of a unit's own field."""

    WHOLE = "whole", "Whole number"
    NUMBER = "number", "Number"
    CODE = "code", "One of a list"
    DAY = "day", "Date"
    TEXT = "text", "Short text"


class LocalTable(CodeList):
    """Table that a unit's own field belongs to."""

    PATIENT = "patient", "Patient"
    OPERATION = "operation", "Operation"
    TREATED_SIDE = "treated_side", "Treated side"


class QuestionState(CodeList):
    """State of a question."""

    ASKED = "asked", "Asked"
    ANSWERED = "answered", "Answered"
    STANDS = "stands_as_recorded", "Stands as recorded"
    MENDED = "mended", "Mended"


class WaitingState(CodeList):
    """State of a row that found no case."""

    WAITING = "waiting", "Waiting"
    PLACED = "placed", "Placed"
    DROPPED = "dropped", "Dropped by a person"


class BatchState(CodeList):
    """State of a batch."""

    LOADED = "loaded", "Loaded"
    WITHDRAWN = "withdrawn", "Withdrawn"


class ChangeKind(CodeList):
    """Kind of an entry of the change history."""

    INSERT = "insert", "Row entered"
    UPDATE = "update", "Row changed"
    WITHDRAW = "withdraw", "Row withdrawn"
    BATCH = "batch", "Rows of a file"
    MIGRATION = "migration", "Data moved by a migration"
    ERASURE = "erasure", "A patient's key erased"


class RoleKind(CodeList):
    """What an account may do."""

    DATA_MANAGER = "data_manager", "Data manager"
    SURGEON = "surgeon", "Surgeon"
    RESEARCH_FELLOW = "research_fellow", "Research fellow"
    IDENTITY = "identity", "May see identities"
    ADMINISTRATOR = "administrator", "Administrator"
