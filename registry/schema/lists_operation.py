"""Code lists about operations and treated sides."""

from registry.schema.codes import CodeList


class Purpose(CodeList):
    """What the visit to theatre was for."""

    STONE_REMOVAL = "stone_removal", "Stone removal"
    DRAINAGE = "drainage", "Drainage only"
    STENT = "stent", "Stent or nephrostomy exchange or removal"
    DIAGNOSTIC = "diagnostic", "Diagnostic"


class Indication(CodeList):
    """Why the stone was treated."""

    PAIN = "pain", "Pain"
    OBSTRUCTION = "obstruction", "Obstruction"
    INFECTION = "infection", "Infection"
    BLEEDING = "bleeding", "Bleeding"
    GROWTH = "growth", "Growth of the stone"
    RENAL_FUNCTION = "renal_function", "Falling renal function"
    PATIENT_CHOICE = "patient_choice", "Patient's choice"
    OCCUPATION = "occupation", "Occupation"
    RESIDUAL = "residual", "Residual fragments"
    INCIDENTAL = "incidental", "Incidental stone"
    OTHER = "other", "Other"


class Urgency(CodeList):
    """Urgency of the operation."""

    ELECTIVE = "elective", "Elective"
    URGENT = "urgent", "Urgent, within days"
    EMERGENCY = "emergency", "Emergency, within hours"


class AsaClass(CodeList):
    """Physical status class.

    Source: American Society of Anesthesiologists physical status classification
    """

    I = "1", "I: healthy"  # noqa: E741
    II = "2", "II: mild systemic disease"
    III = "3", "III: severe systemic disease"
    IV = "4", "IV: constant threat to life"
    V = "5", "V: moribund"


class Anaesthesia(CodeList):
    """Anaesthesia given."""

    GENERAL = "general", "General"
    SPINAL = "spinal", "Spinal"
    EPIDURAL = "epidural", "Epidural"
    SEDATION = "sedation", "Sedation"
    LOCAL = "local", "Local"
    NONE = "none", "None"


class Position(CodeList):
    """Position on the table."""

    LITHOTOMY = "lithotomy", "Lithotomy"
    SUPINE = "supine", "Supine"
    PRONE = "prone", "Prone"
    PRONE_SPLIT_LEG = "prone_split_leg", "Prone, legs split"
    LATERAL = "lateral", "Lateral"
    MODIFIED_SUPINE = "modified_supine", "Modified supine, legs in lithotomy"


class AntibioticClass(CodeList):
    """Class of the antibiotic given."""

    NONE = "none", "None given"
    CEPHALOSPORIN = "cephalosporin", "Cephalosporin"
    AMINOGLYCOSIDE = "aminoglycoside", "Aminoglycoside"
    PENICILLIN = "penicillin", "Penicillin with or without inhibitor"
    FLUOROQUINOLONE = "fluoroquinolone", "Fluoroquinolone"
    CARBAPENEM = "carbapenem", "Carbapenem"
    NITROFURANTOIN = "nitrofurantoin", "Nitrofurantoin"
    TRIMETHOPRIM = "trimethoprim", "Trimethoprim with or without sulfonamide"
    FOSFOMYCIN = "fosfomycin", "Fosfomycin"
    GLYCOPEPTIDE = "glycopeptide", "Glycopeptide"
    COMBINATION = "combination", "Combination"
    OTHER = "other", "Other"


class Anticoagulant(CodeList):
    """Drug against clotting that the patient takes."""

    NONE = "none", "None"
    ASPIRIN = "aspirin", "Aspirin"
    OTHER_ANTIPLATELET = "other_antiplatelet", "Other or dual antiplatelet"
    VITAMIN_K_ANTAGONIST = "vitamin_k_antagonist", "Vitamin K antagonist"
    DIRECT_ORAL = "direct_oral", "Direct oral anticoagulant"
    HEPARIN = "heparin", "Heparin"


class AnticoagulantHandling(CodeList):
    """What was done about it before the operation."""

    CONTINUED = "continued", "Continued"
    STOPPED = "stopped", "Stopped"
    BRIDGED = "bridged", "Bridged"


class TimeStart(CodeList):
    """What operating time is counted from."""

    FIRST_EQUIPMENT_IN = "first_equipment_in", "First equipment inserted"
    ANAESTHESIA = "anaesthesia", "Start of anaesthesia"
    ROOM_ENTRY = "room_entry", "Entry into the room"


class TimeEnd(CodeList):
    """What operating time is counted to."""

    LAST_DRAINAGE_PLACED = "last_drainage_placed", "Last drainage placed"
    LAST_EQUIPMENT_OUT = "last_equipment_out", "Last equipment out"
    ROOM_EXIT = "room_exit", "Leaving the room"


class Technique(CodeList):
    """Technique on one side. More than one may be used on one side."""

    FLEXIBLE = "flexible", "Flexible ureteroscopy"
    SEMIRIGID = "semirigid", "Semirigid ureteroscopy"
    PERCUTANEOUS = "percutaneous", "Percutaneous nephrolithotomy"
    MINI_PERCUTANEOUS = "mini_percutaneous", "Miniaturised percutaneous nephrolithotomy"
    COMBINED = "combined", "Combined antegrade and retrograde"
    SHOCK_WAVE = "shock_wave", "Shock-wave lithotripsy"
    OPEN = "open", "Open surgery"
    LAPAROSCOPIC = "laparoscopic", "Laparoscopic surgery"
    ROBOTIC = "robotic", "Robot-assisted surgery"


class Conduct(CodeList):
    """How far the treatment of a side went."""

    COMPLETED = "completed", "Completed"
    ABANDONED = "abandoned", "Abandoned"
    NOT_STARTED = "not_started", "Not started: no scope or needle entered"
    NO_STONE_FOUND = "no_stone_found", "No stone found"


class ConductReason(CodeList):
    """Why a side was not started or was abandoned."""

    TIGHT_URETER = "tight_ureter", "Tight ureter"
    ACCESS_FAILED = "access_failed", "Access failed"
    STONE_NOT_REACHED = "stone_not_reached", "Stone not reached"
    POOR_VIEW = "poor_view", "Poor view"
    BLEEDING = "bleeding", "Bleeding"
    URETERIC_INJURY = "ureteric_injury", "Injury of the ureter"
    PUS = "pus", "Pus or infected urine"
    EQUIPMENT_FAILURE = "equipment_failure", "Equipment failure"
    ANAESTHETIC = "anaesthetic", "Anaesthetic reason"
    TIME = "time", "Time"
    PATIENT = "patient", "Patient's reason"
    OTHER = "other", "Other"


class AngleMethod(CodeList):
    """How the lower-pole infundibulopelvic angle was measured.

    Source: Elbahnasy et al., J Urol 1998;159:676; Sampaio, 1997
    """

    URETEROPELVIC_AXIS = "ureteropelvic_axis", "Infundibular axis to ureteropelvic axis"
    PELVIS_INFUNDIBULUM = "pelvis_infundibulum", "Pelvis to infundibulum"
    RETROGRADE = "retrograde", "On the retrograde pyelogram"
    OTHER = "other", "Other"


class FurthestPoint(CodeList):
    """The furthest point that the tip of the sheath reached."""

    DISTAL_URETER = "distal_ureter", "Distal ureter"
    MIDDLE_URETER = "middle_ureter", "Middle ureter"
    PROXIMAL_URETER = "proximal_ureter", "Proximal ureter"
    JUNCTION = "junction", "Ureteropelvic junction"
    PELVIS = "pelvis", "Renal pelvis"
    CALYX = "calyx", "A calyx"


class IrrigationDrive(CodeList):
    """How irrigation was driven."""

    GRAVITY = "gravity", "Gravity"
    PRESSURE_BAG = "pressure_bag", "Pressure bag"
    HAND_PUMP = "hand_pump", "Hand pump or syringe"
    AUTOMATIC_PUMP = "automatic_pump", "Automatic pump"


class Suction(CodeList):
    """Suction used on the side."""

    NONE = "none", "None"
    THROUGH_SHEATH = "through_sheath", "Through the sheath"


class SuctionControl(CodeList):
    """How suction was controlled."""

    AT_SHEATH = "at_sheath", "Vent or lever at the sheath"
    AT_CANISTER = "at_canister", "At the collecting canister"
    AT_SOURCE = "at_source", "At the wall or pump"
    SEVERAL = "several", "More than one of these"


class SuctionPattern(CodeList):
    """Continuous or intermittent suction."""

    CONTINUOUS = "continuous", "Continuous"
    INTERMITTENT = "intermittent", "Intermittent"


class Visibility(CodeList):
    """View during lithotripsy."""

    GOOD = "good", "Good"
    FAIR = "fair", "Fair"
    POOR = "poor", "Poor"


class UretericLesion(CodeList):
    """Post-ureteroscopic lesion scale.

    Source: Schoenthaler et al., J Endourol 2012;26:1425-1430 (grade texts from memory)
    """

    G0 = "0", "0: no lesion"
    G1 = "1", "1: superficial mucosal lesion, marked oedema or haematoma"
    G2 = "2", "2: submucosal lesion"
    G3 = "3", "3: perforation, less than half transected"
    G4 = "4", "4: more than half transected"
    G5 = "5", "5: complete transection"


class WallInjury(CodeList):
    """Injury of the ureteric wall after an access sheath.

    Source: Traxer and Thomas, J Urol 2013;189:580-584 (grade texts from memory)
    """

    G0 = "0", "0: none, or mucosal petechiae only"
    G1 = "1", "1: mucosal erosion, muscle intact"
    G2 = "2", "2: mucosa and muscle, adventitia intact"
    G3 = "3", "3: through the adventitia, fat seen"
    G4 = "4", "4: total avulsion"


class Satava(CodeList):
    """Modified Satava grade of events in ureteroscopy.

    Source: Tepeler et al., World J Urol 2014;32:131-136
    """

    NONE = "0", "0: no incident"
    G1 = "1", "1: incident without consequence"
    G2A = "2a", "2a: treated endoscopically in the operation"
    G2B = "2b", "2b: needed endoscopic re-treatment"
    G3 = "3", "3: needed open or laparoscopic surgery"


class IntraoperativeEvent(CodeList):
    """Events in the operation."""

    MUCOSAL_INJURY = "mucosal_injury", "Mucosal injury"
    PERFORATION = "perforation", "Perforation"
    AVULSION = "avulsion", "Avulsion"
    FALSE_PASSAGE = "false_passage", "False passage"
    BLEEDING = "bleeding", "Bleeding"
    STONE_MIGRATION = "stone_migration", "Stone migrated"
    EXTRAVASATION = "extravasation", "Extravasation"
    EQUIPMENT_FAILURE = "equipment_failure", "Equipment failure"
    UNABLE_TO_REACH = "unable_to_reach", "Stone could not be reached"
    CONVERSION = "conversion", "Converted to another technique"
    ADJACENT_ORGAN = "adjacent_organ", "Injury of another organ"
    ANAESTHETIC = "anaesthetic", "Anaesthetic event"
    OTHER = "other", "Other"


class SurgeonJudgement(CodeList):
    """What the surgeon judged was left at the end.

    Source: Gauhar et al., World J Urol 2025;43(1), with one more class for fragments without dust
    """

    NOTHING = "nothing", "Nothing left"
    DUST = "dust", "Dust only"
    DUST_AND_FRAGMENTS = "dust_and_fragments", "Dust and fragments"
    FRAGMENTS = "fragments", "Fragments without dust"
    NOT_JUDGED = "not_judged", "Could not be judged"


class ExitStrategy(CodeList):
    """Drainage at the end of the operation."""

    NONE = "none", "None"
    URETERIC_CATHETER = "ureteric_catheter", "Ureteric catheter"
    STENT = "stent", "Stent"
    STENT_ON_STRING = "stent_on_string", "Stent on a string"
    NEPHROSTOMY = "nephrostomy", "Nephrostomy"
    STENT_AND_NEPHROSTOMY = "stent_and_nephrostomy", "Stent and nephrostomy"


class EnergySource(CodeList):
    """Energy used to break the stone."""

    HOLMIUM_LASER = "holmium_laser", "Holmium laser"
    THULIUM_FIBRE_LASER = "thulium_fibre_laser", "Thulium fibre laser"
    PULSED_THULIUM_LASER = "pulsed_thulium_laser", "Pulsed thulium laser"
    PNEUMATIC = "pneumatic", "Pneumatic"
    ULTRASONIC = "ultrasonic", "Ultrasonic"
    COMBINED_PNEUMATIC_ULTRASONIC = "combined_pneumatic_ultrasonic", "Pneumatic and ultrasonic"
    ELECTROHYDRAULIC = "electrohydraulic", "Electrohydraulic"
    NONE = "none", "None: removed whole"


class PulseMode(CodeList):
    """Shape of the laser pulse."""

    SHORT = "short", "Short"
    MEDIUM = "medium", "Medium"
    LONG = "long", "Long"
    MODULATED = "modulated", "Modulated"
    OTHER = "other", "Other"


class LithotripsyMode(CodeList):
    """Dusting or fragmenting."""

    DUSTING = "dusting", "Dusting"
    FRAGMENTING = "fragmenting", "Fragmenting"
    BOTH = "both", "Both"


class SettingScope(CodeList):
    """Whether energy and minutes are of this setting or of all settings together."""

    THIS_SETTING = "this_setting", "This setting"
    TOTAL = "total", "All settings together"


class Localisation(CodeList):
    """How the stone was localised."""

    FLUOROSCOPY = "fluoroscopy", "Fluoroscopy"
    ULTRASOUND = "ultrasound", "Ultrasound"
    BOTH = "both", "Both"


class Dilation(CodeList):
    """How a tract was dilated."""

    SINGLE_STEP = "single_step", "Single step"
    SERIAL = "serial", "Serial"
    BALLOON = "balloon", "Balloon"


class Reached(CodeList):
    """How far a stone was dealt with."""

    CLEARED = "cleared", "Cleared, as judged in the operation"
    PARTLY = "partly", "Partly treated"
    NOT_REACHED = "not_reached", "Not reached"
    NOT_FOUND = "not_found", "Not found"


class Aim(CodeList):
    """What was meant to happen to a stone in an operation."""

    AIMED_AT = "aimed_at", "Aimed at"
    LEFT = "left_on_purpose", "Left on purpose"


class StageKind(CodeList):
    """What a planned stage was to be."""

    SECOND_LOOK = "second_look", "Second look"
    SAME_TECHNIQUE = "same_technique", "Further session of the same technique"
    OTHER_TECHNIQUE = "other_technique", "Another technique"
