"""People and places: site, operator, patient, identity, renal unit, admission."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import (
    Arises,
    Code,
    Day,
    Keeping,
    Moment,
    Note,
    Number,
    Secret,
    Stage,
    Text,
    Whole,
    field,
    link,
)
from registry.schema.lists_common import DatePrecision, InformationSource, Place, YesNo
from registry.schema.lists_operation import Technique
from registry.schema.lists_people import (
    AdmissionKind,
    Anatomy,
    LossReason,
    PredisposingCondition,
    RenalUnitKind,
    ResearchUse,
    Sex,
    StoneHistory,
)

BEFORE, FOLLOW_UP = Arises.BEFORE, Arises.FOLLOW_UP


class Site(Row, Base):
    """A unit that keeps its cases in this registry."""

    label, about, key_fields = "Site", "One stone unit. Several may share one registry.", ("code",)

    code: Mapped[str] = field("Site code", Text(20), needed=Stage.ENTRY)
    name: Mapped[str] = field("Name", Text(120), needed=Stage.ENTRY)
    time_zone: Mapped[str | None] = field("Time zone", Text(60), help="IANA name, for example Europe/Lisbon")


class Operator(Row, Base):
    """A person who operates, known by a code."""

    label, key_fields = "Operator", ("site_id", "code")
    about = "A person who operates, known by a code; no name is needed."

    site_id: Mapped[int] = link("Site", "site")
    code: Mapped[str] = field("Operator code", Text(20), needed=Stage.ENTRY)


class OperatorPriorCases(Row, Base):
    """How many cases of a technique a person had done before the registry began."""

    label, key_fields = "Cases before the registry", ("operator_id", "technique")
    about = "Cases of each technique that an operator had done before the registry began."

    operator_id: Mapped[int] = link("Operator", "operator")
    technique: Mapped[Technique] = field("Technique", Code(Technique), needed=Stage.ENTRY)
    cases: Mapped[int] = field("Cases before", Whole("cases", 0, 20000, (0, 5000)), arises=BEFORE, needed=Stage.ENTRY)


class Patient(Row, Base):
    """One person, known to analysis by a study number alone."""

    label, key_fields = "Patient", ("site_id", "study_number")
    about = "One person, known to analysis by a study number alone."

    site_id: Mapped[int] = link("Site", "site")
    study_number: Mapped[str] = field("Study number", Text(20), help="never the hospital number", needed=Stage.ENTRY)
    sex: Mapped[Sex | None] = field("Sex", Code(Sex), arises=BEFORE, needed=Stage.OPERATION)
    birth_year: Mapped[int | None] = field(
        "Year of birth", Whole("year", 1880, 2200), arises=BEFORE, needed=Stage.OPERATION
    )
    stone_history: Mapped[StoneHistory | None] = field("Stone history", Code(StoneHistory), arises=BEFORE)
    research_use: Mapped[ResearchUse | None] = field(
        "Research use", Code(ResearchUse), help="blank counts as not asked"
    )
    research_use_since: Mapped[date | None] = field("Research use since", Day())
    not_to_be_contacted: Mapped[YesNo | None] = field("Not to be contacted", Code(YesNo))
    last_known_alive_on: Mapped[date | None] = field("Last known alive on", Day(imprecise=True), arises=FOLLOW_UP)
    last_known_alive_on_precision: Mapped[DatePrecision | None] = field(
        "Precision of last known alive", Code(DatePrecision), companion_of="last_known_alive_on"
    )
    last_known_alive_source: Mapped[InformationSource | None] = field(
        "Source of last known alive", Code(InformationSource), arises=FOLLOW_UP
    )
    died_on: Mapped[date | None] = field("Died on", Day(imprecise=True), arises=FOLLOW_UP)
    died_on_precision: Mapped[DatePrecision | None] = field(
        "Precision of date of death", Code(DatePrecision), companion_of="died_on"
    )
    death_source: Mapped[InformationSource | None] = field("Source of death", Code(InformationSource), arises=FOLLOW_UP)
    death_place: Mapped[Place | None] = field("Place of death", Code(Place), arises=FOLLOW_UP)
    note: Mapped[str | None] = field("Note", Note())


class Predisposition(Row, Base):
    """A condition that predisposes a patient to stones."""

    label, key_fields = "Predisposing condition", ("patient_id", "condition")
    about = "Conditions that predispose to stones, one row each."

    patient_id: Mapped[int] = link("Patient", "patient")
    condition: Mapped[PredisposingCondition] = field(
        "Condition", Code(PredisposingCondition), arises=BEFORE, needed=Stage.ENTRY
    )


class PatientKey(Row, Base):
    """The key under which one patient's identity and free wording are encrypted, itself encrypted.

    Erasing the wrapped key erases the person; everything else stays as it is.
    """

    label, key_fields, clinical, identity = "Patient key", ("patient_id",), False, True
    about = "Each patient's own key, wrapped under the registry's key that is kept outside the database."

    patient_id: Mapped[int] = link("Patient", "patient")
    wrapped_key: Mapped[str | None] = field("Wrapped key", Keeping())
    erased_at: Mapped[datetime | None] = field("Erased at", Moment())


class PatientIdentity(Row, Base):
    """Names and birth date, encrypted."""

    label, key_fields, clinical, identity = "Identity", ("patient_id",), False, True
    about = "Names and birth date, encrypted under the patient's own key."

    patient_id: Mapped[int] = link("Patient", "patient")
    family_name: Mapped[str | None] = field("Family name", Secret())
    given_names: Mapped[str | None] = field("Given names", Secret())
    birth_date: Mapped[str | None] = field("Date of birth", Secret(10), help="as YYYY-MM-DD")


class HospitalNumber(Row, Base):
    """A number by which a hospital knows the patient; several are allowed."""

    label, key_fields, clinical, identity = "Hospital number", ("site_id", "number_index"), False, True
    about = "Numbers by which hospitals know a patient, encrypted; found by exact number through a keyed index."

    site_id: Mapped[int] = link("Site", "site")
    patient_id: Mapped[int] = link("Patient", "patient")
    number: Mapped[str | None] = field("Hospital number", Secret(60, searched=True))
    number_index: Mapped[str | None] = field("Keyed index of the number", Keeping())


class RenalUnit(Row, Base):
    """One kidney with its ureter."""

    label, key_fields = "Renal unit", ("patient_id", "unit", "unit_number")
    about = "One kidney with its ureter: native left, native right, or a transplant."

    patient_id: Mapped[int] = link("Patient", "patient")
    unit: Mapped[RenalUnitKind] = field("Renal unit", Code(RenalUnitKind), needed=Stage.ENTRY)
    unit_number: Mapped[int] = field(
        "Number of the unit",
        Whole("", 1, 4),
        needed=Stage.ENTRY,
        default=1,
        help="above 1 only for a further transplant",
    )
    anatomy: Mapped[Anatomy | None] = field("Anatomy", Code(Anatomy), arises=BEFORE, needed=Stage.OPERATION)
    solitary: Mapped[YesNo | None] = field("Solitary kidney", Code(YesNo), arises=BEFORE)
    prior_stone_surgery: Mapped[YesNo | None] = field(
        "Stone surgery on this side before the registry", Code(YesNo), arises=BEFORE, needed=Stage.OPERATION
    )
    lost_on: Mapped[date | None] = field("Lost on", Day(imprecise=True), arises=FOLLOW_UP)
    lost_on_precision: Mapped[DatePrecision | None] = field(
        "Precision of date of loss", Code(DatePrecision), companion_of="lost_on"
    )
    loss_reason: Mapped[LossReason | None] = field("How lost", Code(LossReason), arises=FOLLOW_UP)
    note: Mapped[str | None] = field("Note", Note())


class Admission(Row, Base):
    """A stay in hospital."""

    label, key_fields = "Admission", ("patient_id", "admitted_on", "admission_number")
    about = "A stay in hospital, here or elsewhere."

    patient_id: Mapped[int] = link("Patient", "patient")
    admitted_on: Mapped[date] = field("Admitted on", Day(), needed=Stage.ENTRY)
    admission_number: Mapped[int] = field("Number of the day", Whole("", 1, 9), needed=Stage.ENTRY, default=1)
    kind: Mapped[AdmissionKind | None] = field("Kind of stay", Code(AdmissionKind))
    unplanned: Mapped[YesNo | None] = field("Unplanned", Code(YesNo))
    place: Mapped[Place | None] = field("Where", Code(Place))
    discharged_on: Mapped[date | None] = field("Discharged on", Day(), arises=FOLLOW_UP, needed=Stage.DISCHARGE)
    stay_after_operation_h: Mapped[float | None] = field(
        "Stay after the operation",
        Number("h", 0, 20000, (0, 500)),
        arises=FOLLOW_UP,
        help="from the end of the last operation of this stay to discharge",
    )
    intensive_care_days: Mapped[float | None] = field(
        "Days in intensive care", Number("d", 0, 1000, (0, 30)), arises=FOLLOW_UP
    )
