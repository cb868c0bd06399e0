"""Cultures and sets of observations."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import Arises, Code, Day, Number, Stage, Whole, field, link
from registry.schema.lists_common import Timing, YesNo
from registry.schema.lists_operation import AntibioticClass
from registry.schema.lists_stone import CultureResult, Organism, Specimen


class Culture(Row, Base):
    """A culture of urine, stone or blood."""

    label, key_fields = "Culture", ("patient_id", "taken_on", "specimen", "culture_number")
    about = "Cultures of urine, stone or blood, before or after an operation."

    patient_id: Mapped[int] = link("Patient", "patient")
    taken_on: Mapped[date] = field("Taken on", Day(), needed=Stage.ENTRY)
    specimen: Mapped[Specimen] = field("Specimen", Code(Specimen), needed=Stage.ENTRY)
    culture_number: Mapped[int] = field("Number of the day", Whole("", 1, 20), needed=Stage.ENTRY, default=1)
    operation_id: Mapped[int | None] = link("For operation", "operation", needed=None)
    timing: Mapped[Timing | None] = field("Before or after", Code(Timing))
    result: Mapped[CultureResult | None] = field("Result", Code(CultureResult), needed=Stage.OPERATION)
    treated_with: Mapped[AntibioticClass | None] = field("Treated with", Code(AntibioticClass))
    treated_since: Mapped[date | None] = field("Treated since", Day())


class CultureOrganism(Row, Base):
    """An organism grown in a culture."""

    label, key_fields = "Organism", ("culture_id", "organism")
    about = "Organisms grown in a culture, one row each."

    culture_id: Mapped[int] = link("Culture", "culture")
    organism: Mapped[Organism] = field("Organism", Code(Organism), needed=Stage.ENTRY)
    count_log10: Mapped[float | None] = field(
        "Count", Number("{log10 CFU/mL}", 0, 12, (3, 8)), help="log10 of colony-forming units per mL"
    )
    multiresistant: Mapped[YesNo | None] = field("Multiresistant", Code(YesNo))


class ObservationSet(Row, Base):
    """Observations and laboratory values of one day."""

    label, key_fields = "Observations", ("patient_id", "observed_on", "set_number")
    about = "Observations and laboratory values, before or after an operation, complication or not."

    patient_id: Mapped[int] = link("Patient", "patient")
    observed_on: Mapped[date] = field("Observed on", Day(), needed=Stage.ENTRY)
    set_number: Mapped[int] = field("Number of the day", Whole("", 1, 99), needed=Stage.ENTRY, default=1)
    operation_id: Mapped[int | None] = link("About operation", "operation", needed=None)
    timing: Mapped[Timing | None] = field("Before or after", Code(Timing))
    temperature_c: Mapped[float | None] = field(
        "Highest temperature", Number("Cel", 25, 45, (35, 41)), arises=Arises.FOLLOW_UP
    )
    heart_rate_min: Mapped[int | None] = field("Heart rate", Whole("/min", 0, 350, (40, 180)))
    respiratory_rate_min: Mapped[int | None] = field("Respiratory rate", Whole("/min", 0, 100, (8, 45)))
    systolic_mmhg: Mapped[int | None] = field("Systolic pressure", Whole("mm[Hg]", 0, 350, (70, 220)))
    mean_pressure_mmhg: Mapped[int | None] = field("Mean pressure", Whole("mm[Hg]", 0, 300, (45, 150)))
    white_cells_g_l: Mapped[float | None] = field("White cells", Number("10*9/L", 0, 500, (1, 40)))
    bands_percent: Mapped[float | None] = field("Bands", Number("%", 0, 100))
    lactate_mmol_l: Mapped[float | None] = field("Lactate", Number("mmol/L", 0, 50, (0.3, 15)))
    platelets_g_l: Mapped[float | None] = field("Platelets", Number("10*9/L", 0, 3000, (20, 800)))
    bilirubin_umol_l: Mapped[float | None] = field("Bilirubin", Number("umol/L", 0, 1500, (2, 300)))
    creatinine_umol_l: Mapped[float | None] = field("Creatinine", Number("umol/L", 1, 3000, (30, 900)))
    egfr_ml_min: Mapped[float | None] = field(
        "Estimated filtration rate, as reported", Number("mL/min/{1.73_m2}", 0, 250, (5, 150))
    )
    haemoglobin_g_l: Mapped[float | None] = field("Haemoglobin", Number("g/L", 20, 260, (60, 190)))
    c_reactive_protein_mg_l: Mapped[float | None] = field("C-reactive protein", Number("mg/L", 0, 1000, (0, 500)))
    pao2_fio2_mmhg: Mapped[float | None] = field("PaO2/FiO2", Number("mm[Hg]", 20, 800, (50, 600)))
    ventilated: Mapped[YesNo | None] = field("Respiratory support", Code(YesNo))
    paco2_mmhg: Mapped[float | None] = field("PaCO2", Number("mm[Hg]", 5, 200, (15, 90)))
    coma_scale: Mapped[int | None] = field("Coma scale", Whole("points", 3, 15))
    urine_ml_24h: Mapped[int | None] = field("Urine in 24 hours", Whole("mL", 0, 20000, (50, 6000)))
    vasopressor: Mapped[YesNo | None] = field("Vasopressor", Code(YesNo))
    noradrenaline_ug_kg_min: Mapped[float | None] = field(
        "Highest noradrenaline dose", Number("ug/kg/min", 0, 10, (0.01, 2))
    )
