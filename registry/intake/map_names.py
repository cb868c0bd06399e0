"""What the trade calls each field: the declarations' own words first, then the synonyms listed here."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from registry.intake.log_mapping_targets import number_heading
from registry.intake.map_words import read_heading
from registry.schema.fields import Arises, FieldInfo, Keeping, RowKey
from registry.schema.sheets import SheetColumn, identity_sheets, sheets

# Target: phrases, in the spelling of map_words. A phrase is a set of words; their order does not count.
SYNONYMS: dict[str, str] = {
    "hospital_number.number": "hospital number; patient hospital number; medical record number; "
    "hospital id; record number hospital",
    "patient.study_number": "study number; study id; patient study number",
    "patient_identity.family_name": "surname; patient surname",
    "patient_identity.given_names": "forename; patient forename; christian name",
    "patient_identity.birth_date": "birth date; patient birth date",
    "patient.birth_year": "birth years",
    "patient.sex": "sex; patient sex; m f; sex m f",
    "patient.stone_history": "stone history; recurrent stone former; stone former",
    "patient.died_on": "death date; died date; deceased date",
    "renal_unit.unit": "side; stone side; operation side; kidney; kidney side; treated side; "
    "affected side; procedure side",
    "renal_unit.anatomy": "anatomy; renal anatomy; kidney anatomy; anatomical abnormality",
    "renal_unit.solitary": "solitary kidney; single kidney",
    "operation.operated_on": "operation date; procedure date; date theatre; treatment date",
    "operation.age_years": "age; age years; patient age; age operation; age operation years",
    "operation.asa_class": "asa; asa class; asa grade; asa score; asa status",
    "operation.height_cm": "height; patient height",
    "operation.weight_kg": "weight; patient weight; body weight",
    "operation.diabetes": "diabetes; diabetic",
    "operation.ischaemic_heart_disease": "ischaemic heart disease",
    "operation.chronic_kidney_disease": "chronic kidney disease",
    "operation.charlson": "charlson; charlson index; charlson score; cci",
    "operation.anaesthesia": "anaesthesia; anaesthesia type; type anaesthesia",
    "operation.position": "position; patient position; operation position",
    "operation.urgency": "urgency; elective emergency",
    "operation.indication": "indication; operation indication",
    "operation.prophylaxis": "prophylaxis; antibiotic prophylaxis; prophylactic antibiotic",
    "operation.anticoagulant": "anticoagulant; anticoagulation; blood thinner",
    "operation.operating_min": "operation time; operating time; operative time; time operating",
    "operation.room_min": "room time; time room",
    "operation.fluoroscopy_s": "fluoroscopy; fluoroscopy time",
    "operation.dose_area_product_gy_cm2": "dose area product",
    "operation.note": "operation note; operation comment",
    "operation_operator.operator": "surgeon; operator; first surgeon; main surgeon; primary surgeon; first operator; "
    "operating surgeon; surgeon code; operator code; assistant; first assistant; assistant surgeon",
    "operation_operator.grade": "surgeon grade; operator grade; grade surgeon",
    "treated_side.technique": "procedure; technique; operation; operation type; procedure type; operation performed",
    "treated_side.pre_stented": "stent before; stented before; stent preoperative; prestent",
    "treated_side.nephrostomy_before": "nephrostomy before; nephrostomy preoperative",
    "treated_side.hydronephrosis": "hydronephrosis; hydronephrosis grade",
    "treated_side.exit_strategy": "exit strategy; drainage end; postoperative drainage; drainage postoperative",
    "treated_side.infundibulopelvic_angle_deg": "infundibulopelvic angle; "
    "lower pole infundibulopelvic angle; lip angle",
    "treated_side.lithotripsy_min": "lithotripsy time; laser time",
    "treated_side.visibility": "visibility; view; vision",
    "treated_side.safety_wire": "safety wire",
    "treated_side.suction": "suction",
    "treated_side.conduct": "conduct; procedure completed",
    "treated_side.note": "treated side note",
    "stone.length_mm": "stone size; stone length; stone diameter; max stone size; largest stone size; "
    "maximum stone size; stone max diameter; stone maximum diameter; stone size max",
    "stone.width_mm": "stone width",
    "stone.depth_mm": "stone depth",
    "stone.volume_mm3": "stone volume",
    "stone.attenuation_hu": "attenuation; stone attenuation; ct attenuation; attenuation units; "
    "stone attenuation units; stone attenuation mean; mean attenuation",
    "stone.location": "stone location; location stone; stone position; calyx; stone calyx",
    "stone.skin_to_stone_mm": "skin stone distance",
    "stone.impacted": "impacted; impacted stone; stone impacted",
    "stone.measured_on": "preoperative ct date; preoperative scan date; ct date preoperative",
    "stone.radio_opacity": "opacity; radio opacity; radioopacity; radiopaque",
    "equipment_model.inner_tenths_fr": "sheath inner; sheath inner diameter; access sheath inner; sheath id; "
    "access sheath inner diameter; access sheath id",
    "equipment_model.outer_tenths_fr": "sheath outer; sheath outer diameter; access sheath outer; sheath od; "
    "access sheath outer diameter; access sheath od",
    "equipment_model.length_cm": "sheath length; access sheath length",
    "equipment_model.shaft_tenths_fr": "scope shaft; scope shaft diameter; scope diameter; scope size",
    "lithotripsy_setting.energy_source": "energy source; laser type; laser; lithotripter; lithotripsy",
    "lithotripsy_setting.pulse_energy_j": "pulse energy; laser pulse energy; laser joules",
    "lithotripsy_setting.frequency_hz": "laser frequency; frequency; pulse frequency; pulse rate",
    "lithotripsy_setting.total_energy_kj": "total energy; total laser energy; laser energy total",
    "lithotripsy_setting.power_w": "laser power; power",
    "admission.admitted_on": "admission date",
    "admission.discharged_on": "discharge date",
    "admission.stay_after_operation_h": "postoperative stay; length postoperative stay; stay operation",
    "examination.examined_on": "followup ct date; followup scan date; followup date scan; postoperative ct date; "
    "postoperative scan date; ct date followup; followup ultrasound date",
    "examination.modality": "followup modality; scan type followup; followup scan; "
    "followup scan type; followup scan modality",
    "reading.wording": "report; ct report; followup ct report; followup report; scan report",
    "reading.hydronephrosis": "followup hydronephrosis; postoperative hydronephrosis; hydronephrosis followup",
    "fragment.diameter_high_mm": "residual size; residual fragment size; largest residual; residual stone size; "
    "fragment size; largest fragment; residual fragment; residual stone; residual diameter; largest residual fragment",
    "complication.what": "complication; complication type; postoperative complication",
    "complication.onset_on": "complication date",
    "grading.grade": "clavien; clavien grade; clavien class; complication grade; clavien classification",
    "drain.removed_on": "stent removal date; stent removed; stent removed date; date stent removal",
    "drain.placed_on": "stent date; stent placed; stent insertion date",
    "culture.result": "culture; urine culture; culture result; urine culture result; msu",
    "culture.taken_on": "culture date; urine culture date; msu date",
    "culture_organism.organism": "organism; urine organism; culture organism",
    "analysis_component.component": "stone composition; composition; stone analysis; stone type",
    "observation_set.creatinine_umol_l": "creatinine; serum creatinine; preoperative creatinine; "
    "postoperative creatinine",
    "observation_set.haemoglobin_g_l": "haemoglobin; preoperative haemoglobin; postoperative haemoglobin",
    "observation_set.c_reactive_protein_mg_l": "c reactive protein; postoperative c reactive protein",
    "observation_set.white_cells_g_l": "white cells; postoperative white cells",
    "observation_set.egfr_ml_min": "egfr; preoperative egfr; postoperative egfr",
    "observation_set.temperature_c": "temperature; max temperature; postoperative temperature",
}  # fmt: skip
# One heading, several things it may be: never decided by the heading, however well it fits one of them.
UNDECIDED: dict[str, tuple[str, ...]] = {
    "date": ("operation.operated_on", "examination.examined_on", "patient_identity.birth_date"),
    "scan date": ("examination.examined_on", "stone.measured_on"),
    "ct date": ("examination.examined_on", "stone.measured_on"),
    "ultrasound date": ("examination.examined_on", "stone.measured_on"),
    "date ct": ("examination.examined_on", "stone.measured_on"),
    "followup date": ("examination.examined_on", "contact.contacted_on"),
    "review date": ("contact.contacted_on", "examination.examined_on"),
    "number": ("hospital_number.number", "patient.study_number"),
    "id": ("hospital_number.number", "patient.study_number"),
    "patient number": ("hospital_number.number", "patient.study_number"),
    "patient id": ("hospital_number.number", "patient.study_number"),
    "registry number": ("patient.study_number", "hospital_number.number"),
    "research number": ("patient.study_number", "hospital_number.number"),
    "unit number": ("hospital_number.number", "patient.study_number"),
    "case number": ("patient.study_number", "hospital_number.number"),
    "case id": ("patient.study_number", "hospital_number.number"),
    "record number": ("hospital_number.number", "patient.study_number"),
    "operation number": ("hospital_number.number", "patient.study_number"),
    "size": ("stone.length_mm", "fragment.diameter_high_mm"),
    "length": ("stone.length_mm", "equipment_model.length_cm"),
    "width": ("stone.width_mm",),
    "diameter": ("stone.length_mm", "fragment.diameter_high_mm"),
    "max diameter": ("stone.length_mm", "fragment.diameter_high_mm"),
    "location": ("stone.location", "fragment.location", "renal_unit.unit"),
    "name": ("patient_identity.family_name", "operation_operator.operator"),
    "patient": ("patient_identity.family_name", "hospital_number.number"),
    "patient name": ("patient_identity.family_name", "patient_identity.given_names"),
    "fr": ("equipment_model.outer_tenths_fr", "equipment_model.inner_tenths_fr"),
    "sheath": ("equipment_model.inner_tenths_fr", "equipment_model.outer_tenths_fr", "equipment_model.model_code"),
    "access sheath": (
        "equipment_model.inner_tenths_fr",
        "equipment_model.outer_tenths_fr",
        "equipment_model.model_code",
    ),
    "sheath size": ("equipment_model.inner_tenths_fr", "equipment_model.outer_tenths_fr"),
    "access sheath size": ("equipment_model.inner_tenths_fr", "equipment_model.outer_tenths_fr"),
    "scope": ("equipment_model.model_code", "equipment_model.shaft_tenths_fr"),
    "consultant": ("operation_operator.operator",),
    "team": ("operation_operator.operator",),
    "grade": ("operation_operator.grade", "grading.grade", "treated_side.hydronephrosis"),
    "time": ("operation.operating_min", "operation.started_at"),
    "length stay": ("admission.stay_after_operation_h",),
    "hospital stay": ("admission.stay_after_operation_h",),
    "stay": ("admission.stay_after_operation_h",),
    "theatre time": ("operation.room_min", "operation.operating_min"),
    "energy": ("lithotripsy_setting.total_energy_kj", "lithotripsy_setting.pulse_energy_j"),
    "laser energy": ("lithotripsy_setting.total_energy_kj", "lithotripsy_setting.pulse_energy_j"),
    "residual": ("fragment.diameter_high_mm", "reading.finding"),
    "stent": ("treated_side.exit_strategy", "treated_side.pre_stented"),
    "stent postoperative": ("treated_side.exit_strategy",),
    "comment": ("operation.note", "treated_side.note", "patient.note"),
    "note": ("operation.note", "treated_side.note", "patient.note"),
    "outcome": ("reading.wording", "treated_side.surgeon_judgement"),
    "result": ("reading.wording", "culture.result"),
    "stone": ("stone.location", "stone.length_mm"),
    "stone burden": ("stone.length_mm", "stone.location"),
    "followup ct": ("examination.examined_on", "reading.wording"),
    "followup": ("contact.contacted_on", "examination.examined_on", "reading.wording"),
}


@dataclass(frozen=True)
class Target:
    """One field that a column may hold."""

    name: str
    column: SheetColumn

    @property
    def info(self) -> FieldInfo:
        """Its declaration."""
        return self.column.info

    @property
    def table(self) -> str:
        """Its table."""
        return self.name.partition(".")[0]

    @property
    def before(self) -> bool:
        """It is known before the operation."""
        return self.info.arises is Arises.BEFORE or self.table in ("patient", "patient_identity", "stone")

    @property
    def after(self) -> bool:
        """It comes into being after the operation."""
        return self.info.arises is Arises.FOLLOW_UP or self.table in (
            "examination",
            "reading",
            "fragment",
            "complication",
        )


@cache
def targets() -> dict[str, Target]:
    """Every field that a column of a log may hold, by ``table.heading``."""
    found: dict[str, Target] = {}
    for sheet in (*sheets(), *identity_sheets()):
        if sheet.table in ("setting", "cost_rate", "local_field", "equipment_price", "repair", "equipment_item"):
            continue
        for column in sheet.columns:
            # "Number of stones" is not the number of a stone: rows are counted by their group, never by a column.
            counts = column.heading == number_heading(sheet.table)
            if not column.links and not counts and not isinstance(column.info.kind, Keeping | RowKey):
                # Who operated belongs to the operation: among the operators alone it would say so of none.
                table = "operation_operator" if sheet.table == "operator" else sheet.table
                found[f"{table}.{column.heading}"] = Target(f"{table}.{column.heading}", column)
    return found


@cache
def phrases() -> tuple[tuple[frozenset[str], str, float], ...]:
    """Every phrase with the field it names and how well it names it, 0 to 1."""
    found: dict[tuple[frozenset[str], str], float] = {}

    def add(text: str, name: str, worth: float) -> None:
        words = read_heading(text, frozenset()).words
        if words:
            found[words, name] = max(worth, found.get((words, name), 0.0))

    titles = {sheet.table: sheet.title for sheet in (*sheets(), *identity_sheets())}
    for name, target in targets().items():
        label, heading = target.info.label, target.column.heading.replace("_", " ")
        # A label of one word ("Kind", "Rate") names a field only beside the name of its table.
        add(label, name, 0.95 if len(read_heading(label, frozenset()).words) > 1 else 0.65)
        add(f"{titles[target.table]} {label}", name, 0.95)
        add(f"{target.table.replace('_', ' ')} {heading}", name, 0.95)
    for name, listed in SYNONYMS.items():
        for phrase in listed.split("; "):
            add(phrase, name, 0.97)
    return tuple((words, name, worth) for (words, name), worth in found.items())


@cache
def undecided() -> dict[frozenset[str], tuple[str, ...]]:
    """Headings that fit several fields, by their words."""
    return {read_heading(text, frozenset()).words: names for text, names in UNDECIDED.items()}
