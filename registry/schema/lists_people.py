"""Code lists about people and places."""

from registry.schema.codes import CodeList


class Sex(CodeList):
    """Sex as recorded in the hospital."""

    FEMALE = "female", "Female"
    MALE = "male", "Male"
    OTHER = "other", "Other or not stated"


class StoneHistory(CodeList):
    """Whether the patient had formed stones before."""

    FIRST = "first", "First stone"
    RECURRENT = "recurrent", "Recurrent stone former"


class ResearchUse(CodeList):
    """Whether the patient's data may be used for research."""

    YES = "yes", "Agreed"
    NO = "no", "Refused"
    NOT_ASKED = "not_asked", "Not asked"


class PredisposingCondition(CodeList):
    """Conditions that predispose to stones."""

    HYPERCALCIURIA = "hypercalciuria", "Hypercalciuria"
    HYPEROXALURIA = "hyperoxaluria", "Hyperoxaluria"
    HYPOCITRATURIA = "hypocitraturia", "Hypocitraturia"
    HYPERURICOSURIA = "hyperuricosuria", "Hyperuricosuria or gout"
    CYSTINURIA = "cystinuria", "Cystinuria"
    HYPERPARATHYROIDISM = "hyperparathyroidism", "Hyperparathyroidism"
    RENAL_TUBULAR_ACIDOSIS = "renal_tubular_acidosis", "Renal tubular acidosis"
    MEDULLARY_SPONGE_KIDNEY = "medullary_sponge_kidney", "Medullary sponge kidney"
    BOWEL_DISEASE = "bowel_disease", "Inflammatory bowel disease or bowel resection"
    BARIATRIC_SURGERY = "bariatric_surgery", "Bariatric surgery"
    RECURRENT_INFECTION = "recurrent_infection", "Recurrent urinary infection"
    IMMOBILITY = "immobility", "Immobility"
    STONE_FORMING_DRUG = "stone_forming_drug", "Stone-forming drug"
    FAMILY_HISTORY = "family_history", "Family history"
    OTHER = "other", "Other"


class RenalUnitKind(CodeList):
    """Which kidney, with its ureter."""

    LEFT = "left", "Native left"
    RIGHT = "right", "Native right"
    TRANSPLANT = "transplant", "Transplant"


class Anatomy(CodeList):
    """Anatomy of a renal unit."""

    NORMAL = "normal", "Normal"
    HORSESHOE = "horseshoe", "Horseshoe kidney"
    PELVIC = "pelvic", "Pelvic or other ectopic kidney"
    MALROTATED = "malrotated", "Malrotated kidney"
    DUPLEX = "duplex", "Duplex system"
    CALYCEAL_DIVERTICULUM = "calyceal_diverticulum", "Calyceal diverticulum"
    JUNCTION_OBSTRUCTION = "junction_obstruction", "Ureteropelvic junction obstruction"
    MEDULLARY_SPONGE = "medullary_sponge", "Medullary sponge kidney"
    URINARY_DIVERSION = "urinary_diversion", "Ileal conduit or other diversion"
    TRANSPLANT = "transplant", "Transplant kidney"
    OTHER = "other", "Other abnormal anatomy"


class LossReason(CodeList):
    """How a kidney was lost."""

    NEPHRECTOMY = "nephrectomy", "Nephrectomy"
    GRAFT_LOSS = "graft_loss", "Graft lost"
    NO_FUNCTION = "no_function", "No function left"


class AdmissionKind(CodeList):
    """Kind of stay."""

    INPATIENT = "inpatient", "In-patient"
    DAY_CASE = "day_case", "Day case"
    OUTPATIENT = "outpatient", "Out-patient"


class OperatorGrade(CodeList):
    """Grade of a person on the day."""

    CONSULTANT = "consultant", "Consultant"
    FELLOW = "fellow", "Fellow"
    SPECIALIST_TRAINEE = "specialist_trainee", "Specialist trainee"
    JUNIOR_TRAINEE = "junior_trainee", "Junior trainee"
    NURSE_PRACTITIONER = "nurse_practitioner", "Nurse practitioner"
    OTHER = "other", "Other"


class OperatorRole(CodeList):
    """What a person was at the operation."""

    FIRST = "first", "First operator"
    ASSISTANT = "assistant", "Assistant"
    SUPERVISOR = "supervisor", "Supervisor"
    ACCESS = "access", "Made the access"


class Supervision(CodeList):
    """How a first operator in training was supervised."""

    INDEPENDENT = "independent", "Independent"
    SUPERVISOR_AVAILABLE = "supervisor_available", "Supervisor in the building"
    SUPERVISOR_UNSCRUBBED = "supervisor_unscrubbed", "Supervisor in theatre"
    SUPERVISOR_SCRUBBED = "supervisor_scrubbed", "Supervisor scrubbed"


class OperatorPart(CodeList):
    """Part of the operation that a person did."""

    WHOLE = "whole", "The whole operation"
    ACCESS = "access", "Access"
    LITHOTRIPSY = "lithotripsy", "Lithotripsy and clearance"
    LEFT_SIDE = "left_side", "The left side"
    RIGHT_SIDE = "right_side", "The right side"
    PART = "part", "Another part"
