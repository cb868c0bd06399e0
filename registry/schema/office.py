"""The office's own tables: theatre lists, costs, local fields, settings, questions, batches, accounts, history."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import (
    Code,
    Day,
    Keeping,
    Moment,
    Note,
    Number,
    Reference,
    RowKey,
    Secret,
    Stage,
    Text,
    Whole,
    field,
    link,
)
from registry.schema.lists_common import Currency, YesNo
from registry.schema.lists_outcome import (
    BatchState,
    ChangeKind,
    CostItem,
    ListLineState,
    LocalKind,
    LocalTable,
    QuestionState,
    RoleKind,
    WaitingState,
)

ENTRY = Stage.ENTRY
LOCAL_HELP = "of the kind, and within the limits or list, that its local field declares"


class TheatreListLine(Row, Base):
    """A line of a theatre list, to be matched to an operation."""

    label, key_fields, clinical = "Theatre list line", ("site_id", "listed_on", "line_number"), False
    about = "Lines of theatre lists, so that missing operations can be found."

    site_id: Mapped[int] = link("Site", "site")
    listed_on: Mapped[date] = field("Listed on", Day(ahead=True), needed=ENTRY)
    line_number: Mapped[int] = field("Line", Whole("", 1, 999), needed=ENTRY)
    hospital_number: Mapped[str | None] = field("Hospital number", Secret(60, searched=True))
    hospital_number_index: Mapped[str | None] = field("Keyed index of the number", Keeping())
    wording: Mapped[str | None] = field("Wording of the list", Note())
    state: Mapped[ListLineState] = field("State", Code(ListLineState), needed=ENTRY, default=ListLineState.OPEN)
    operation_id: Mapped[int | None] = link("Operation", "operation", needed=None)
    said_by: Mapped[str | None] = field("Said by", Text(60))


class CostRate(Row, Base):
    """What one unit of something costs."""

    label, key_fields = "Cost rate", ("site_id", "item", "item_detail", "since")
    about = "Rates for minutes, days, visits and drugs, with currency and price year."

    site_id: Mapped[int] = link("Site", "site")
    item: Mapped[CostItem] = field("Item", Code(CostItem), needed=ENTRY)
    item_detail: Mapped[str] = field("Detail", Text(60), needed=ENTRY, default="-")
    since: Mapped[date] = field("Since", Day(ahead=True), needed=ENTRY)
    amount: Mapped[float] = field("Amount", Number("currency", 0, 10_000_000), needed=ENTRY)
    currency: Mapped[Currency] = field("Currency", Code(Currency), needed=ENTRY)
    price_year: Mapped[int] = field("Price year", Whole("year", 1970, 2200), needed=ENTRY)


class LocalField(Row, Base):
    """A unit's own extra item, declared as data."""

    label, key_fields = "Local field", ("site_id", "belongs_to", "field_name")
    about = "A unit's own extra items, declared as data and checked like the rest."

    site_id: Mapped[int] = link("Site", "site")
    belongs_to: Mapped[LocalTable] = field("Belongs to", Code(LocalTable), needed=ENTRY)
    field_name: Mapped[str] = field("Name", Text(60), needed=ENTRY)
    field_label: Mapped[str] = field("Label", Text(120), needed=ENTRY)
    kind: Mapped[LocalKind] = field("Kind", Code(LocalKind), needed=ENTRY)
    field_unit: Mapped[str | None] = field("Unit", Text(40))
    low: Mapped[float | None] = field("Lowest", Number("", -1e12, 1e12))
    high: Mapped[float | None] = field("Highest", Number("", -1e12, 1e12))
    choices: Mapped[str | None] = field("Codes", Text(2000), help="separated by semicolons")


class LocalPatientValue(Row, Base):
    """The value of a local field for one patient."""

    label, key_fields = "Local value, patient", ("local_field_id", "patient_id")
    about = "Values of local fields that belong to patients."

    local_field_id: Mapped[int] = link("Local field", "local_field")
    patient_id: Mapped[int] = link("Patient", "patient")
    value: Mapped[str] = field("Value", Text(200), identifying=True, needed=ENTRY, help=LOCAL_HELP)


class LocalOperationValue(Row, Base):
    """The value of a local field for one operation."""

    label, key_fields = "Local value, operation", ("local_field_id", "operation_id")
    about = "Values of local fields that belong to operations."

    local_field_id: Mapped[int] = link("Local field", "local_field")
    operation_id: Mapped[int] = link("Operation", "operation")
    value: Mapped[str] = field("Value", Text(200), identifying=True, needed=ENTRY, help=LOCAL_HELP)


class LocalSideValue(Row, Base):
    """The value of a local field for one treated side."""

    label, key_fields = "Local value, side", ("local_field_id", "treated_side_id")
    about = "Values of local fields that belong to treated sides."

    local_field_id: Mapped[int] = link("Local field", "local_field")
    treated_side_id: Mapped[int] = link("Treated side", "treated_side")
    value: Mapped[str] = field("Value", Text(200), identifying=True, needed=ENTRY, help=LOCAL_HELP)


class Setting(Row, Base):
    """A unit's own default, from a day on."""

    label, key_fields = "Setting", ("site_id", "setting_name", "since")
    about = "The unit's own defaults with their history; printed with every figure they touch."

    site_id: Mapped[int] = link("Site", "site")
    setting_name: Mapped[str] = field("Name", Text(80), needed=ENTRY)
    since: Mapped[date] = field("Since", Day(ahead=True), needed=ENTRY)
    value: Mapped[str] = field("Value", Text(400), needed=ENTRY)
    reason: Mapped[str | None] = field("Reason", Note())


class Batch(Row, Base):
    """A file that was loaded."""

    label, key_fields, clinical = "Batch", ("content_hash",), False
    about = "Files that were loaded: their hash, how many rows, in which state."

    content_hash: Mapped[str] = field("Hash of the file", Text(64), needed=ENTRY)
    file_name: Mapped[str | None] = field("Name of the file", Note())
    source: Mapped[str | None] = field(
        "Source", Text(80), help="the log it is a version of, by the name in its mapping; or workbook"
    )
    row_count: Mapped[int] = field("Rows", Whole("rows", 0), needed=ENTRY)
    state: Mapped[BatchState] = field("State", Code(BatchState), needed=ENTRY, default=BatchState.LOADED)


class WaitingRow(Row, Base):
    """A row of an extract that found no case."""

    label, key_fields, clinical = "Waiting row", ("source_batch_id", "sheet", "row_number"), False
    about = "Rows of an extract that matched no case, encrypted, to be tried again."

    source_batch_id: Mapped[int] = field("From batch", Reference("batch"), needed=ENTRY)
    sheet: Mapped[str] = field("Sheet", Text(80), needed=ENTRY)
    row_number: Mapped[int] = field("Row", Whole("", 1), needed=ENTRY)
    content: Mapped[str | None] = field("Content", Note(20000))
    state: Mapped[WaitingState] = field("State", Code(WaitingState), needed=ENTRY, default=WaitingState.WAITING)
    tried_at: Mapped[datetime | None] = field("Last tried at", Moment())


class PatientMerge(Row, Base):
    """Two records found to be of one patient."""

    label, key_fields, clinical = (
        "Patient merge",
        ("kept_patient_id", "merged_patient_id", "merged_at"),
        False,
    )
    about = "Two records of one patient, merged; can be undone."

    kept_patient_id: Mapped[int] = link("Kept", "patient")
    merged_patient_id: Mapped[int] = link("Merged", "patient")
    merged_at: Mapped[datetime] = field("Merged at", Moment(), needed=ENTRY)
    undone_at: Mapped[datetime | None] = field("Undone at", Moment())
    moved_rows: Mapped[str | None] = field("Rows moved", Keeping())
    reason: Mapped[str | None] = field("Reason", Note())


class Question(Row, Base):
    """Something about a case that a person must answer."""

    label, key_fields, clinical = "Question", ("rule", "about_table", "about_row", "asked_at"), False
    about = "Something about a case that a person must answer."

    site_id: Mapped[int] = link("Site", "site")
    rule: Mapped[str] = field("Rule", Text(80), needed=ENTRY)
    about_table: Mapped[str] = field("About table", Text(60), needed=ENTRY)
    about_row: Mapped[int] = field("About row", Whole("", 1), needed=ENTRY)
    about_field: Mapped[str | None] = field("About field", Text(60))
    asked_at: Mapped[datetime] = field("Asked at", Moment(), needed=ENTRY)
    asked: Mapped[str | None] = field("Question", Note())
    asked_of: Mapped[str | None] = field("Asked of", Text(60))
    state: Mapped[QuestionState] = field("State", Code(QuestionState), needed=ENTRY, default=QuestionState.ASKED)
    answer: Mapped[str | None] = field("Answer", Note())
    answered_by: Mapped[str | None] = field("Answered by", Text(60))
    answered_at: Mapped[datetime | None] = field("Answered at", Moment())


class QualityRun(Row, Base):
    """What one rule found on one day."""

    label, key_fields, clinical = "Quality run", ("rule", "run_on"), False
    about = "What each rule found on the days the checks were run, so that a trend can be shown."

    rule: Mapped[str] = field("Rule", Text(80), needed=ENTRY)
    run_on: Mapped[date] = field("Run on", Day(), needed=ENTRY)
    checked: Mapped[int] = field("Cases checked", Whole("cases", 0, 100_000_000), needed=ENTRY)
    broken: Mapped[int] = field("Cases that break the rule", Whole("cases", 0, 100_000_000), needed=ENTRY)
    not_computable: Mapped[int] = field("Cases that could not be judged", Whole("cases", 0, 100_000_000), needed=ENTRY)


class Account(Row, Base):
    """A person who may use the registry."""

    label, key_fields, clinical = "Account", ("account_name",), False
    about = "People who may use the registry."

    account_name: Mapped[str] = field("Account", Text(60), needed=ENTRY)
    secret_hash: Mapped[str | None] = field("Hash of the pass phrase", Keeping())
    operator_id: Mapped[int | None] = link("Operator", "operator", needed=None)
    disabled: Mapped[YesNo | None] = field("Disabled", Code(YesNo))


class Role(Row, Base):
    """What an account may do at a site."""

    label, key_fields, clinical = "Role", ("account_id", "site_id", "role"), False
    about = "What an account may do at a site."

    account_id: Mapped[int] = link("Account", "account")
    site_id: Mapped[int] = link("Site", "site")
    role: Mapped[RoleKind] = field("Role", Code(RoleKind), needed=ENTRY)


class ChangeHistory(Base):
    """Who changed what, when, why; what stood before and after. Only ever added to; each entry seals the last."""

    label, about, clinical = "Change history", "Append-only, each entry chained to the one before.", False

    id: Mapped[int] = field("Key", RowKey(), needed=ENTRY)
    at: Mapped[datetime] = field("At", Moment(), needed=ENTRY)
    by: Mapped[str] = field("By", Text(), needed=ENTRY)
    kind: Mapped[ChangeKind] = field("Kind", Code(ChangeKind), needed=ENTRY)
    about_table: Mapped[str | None] = field("Table", Text(60))
    about_row: Mapped[int | None] = field("Row", Whole())
    before: Mapped[str | None] = field("Before", Keeping())
    after: Mapped[str | None] = field("After", Keeping())
    reason: Mapped[str | None] = field("Reason", Note())
    row_count: Mapped[int | None] = field("Rows", Whole())
    content_before: Mapped[str | None] = field("Content hash before", Keeping())
    content_after: Mapped[str | None] = field("Content hash after", Keeping())
    fingerprints: Mapped[str | None] = field("Fingerprints of rows", Keeping())
    previous_hash: Mapped[str] = field("Hash of the entry before", Keeping(), needed=ENTRY)
    entry_hash: Mapped[str] = field("Hash of this entry", Keeping(), needed=ENTRY)
