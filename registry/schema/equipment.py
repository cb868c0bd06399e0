"""The equipment catalogue, its items, each attempt to use it, and what was left in place."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Mapped

from registry.schema.base import Base, Row
from registry.schema.fields import Arises, Code, Day, Note, Number, Stage, Text, Whole, field, link
from registry.schema.lists_common import Currency, DatePrecision, Place, YesNo
from registry.schema.lists_equipment import (
    DrainKind,
    EquipmentKind,
    FailureConsequence,
    FailureMode,
    FailureStage,
    RemovalPlace,
    Reportable,
    UseReason,
    UseResult,
)

CHOICE, ACCESS, AFTER, FOLLOW_UP = Arises.CHOICE, Arises.ACCESS, Arises.AFTER_ACCESS, Arises.FOLLOW_UP


def french(low: int, high: int, plausible: tuple[float, float]) -> Whole:
    """A calibre in tenths of French, an exact integer; people type French (1 Fr is a third of a millimetre)."""
    return Whole("0.1 Fr", low, high, plausible, scale=10, typed_unit="Fr")


class EquipmentModel(Row, Base):
    """An entry of the catalogue, with its dimensions."""

    label, key_fields = "Equipment model", ("site_id", "model_code")
    about = "The unit's catalogue: one entry a model, with its dimensions."

    site_id: Mapped[int] = link("Site", "site")
    model_code: Mapped[str] = field("Model code", Text(40), needed=Stage.ENTRY)
    kind: Mapped[EquipmentKind] = field("Kind", Code(EquipmentKind), arises=CHOICE, needed=Stage.ENTRY)
    description: Mapped[str | None] = field("Description", Text(120))
    tip_tenths_fr: Mapped[int | None] = field("Tip", french(5, 400, (40, 120)), arises=CHOICE)
    shaft_tenths_fr: Mapped[int | None] = field(
        "Shaft",
        french(5, 400, (60, 270)),
        arises=CHOICE,
        help="the largest outer diameter that lies within the sheath",
    )
    inner_tenths_fr: Mapped[int | None] = field("Inner diameter", french(5, 400, (80, 300)), arises=CHOICE)
    outer_tenths_fr: Mapped[int | None] = field("Outer diameter", french(5, 400, (90, 330)), arises=CHOICE)
    length_cm: Mapped[float | None] = field("Length", Number("cm", 1, 400, (10, 150)), arises=CHOICE)
    channel_tenths_fr: Mapped[int | None] = field("Working channel", french(5, 200, (30, 60)), arises=CHOICE)
    wire_thousandths_inch: Mapped[int | None] = field(
        "Wire diameter",
        Whole("0.001 [in_i]", 5, 80, (18, 38), scale=1000, typed_unit="[in_i]"),
        arises=CHOICE,
    )
    fibre_core_um: Mapped[int | None] = field("Fibre core", Whole("um", 50, 1500, (150, 550)), arises=CHOICE)
    single_use: Mapped[YesNo | None] = field("Single use", Code(YesNo), arises=CHOICE)
    suction: Mapped[YesNo | None] = field("Takes suction", Code(YesNo), arises=CHOICE)
    steerable_tip: Mapped[YesNo | None] = field("Steerable tip", Code(YesNo), arises=CHOICE)
    device_identifier: Mapped[str | None] = field(
        "Device identifier", Text(60), help="the part of the UDI that names the model", source="GS1 AI 01"
    )


class EquipmentPrice(Row, Base):
    """What a model cost from a day on."""

    label, key_fields = "Price", ("equipment_model_id", "since")
    about = "Dated prices of a model."

    equipment_model_id: Mapped[int] = link("Equipment model", "equipment_model")
    since: Mapped[date] = field("Since", Day(ahead=True), needed=Stage.ENTRY)
    price: Mapped[float] = field("Price", Number("currency", 0, 10_000_000), needed=Stage.ENTRY)
    currency: Mapped[Currency] = field("Currency", Code(Currency), needed=Stage.ENTRY)


class EquipmentItem(Row, Base):
    """One serial-numbered thing."""

    label, key_fields = "Equipment item", ("equipment_model_id", "serial")
    about = "One serial-numbered thing of a model."

    equipment_model_id: Mapped[int] = link("Equipment model", "equipment_model")
    serial: Mapped[str] = field("Serial number", Text(60), identifying=True, needed=Stage.ENTRY)
    acquired_on: Mapped[date | None] = field("Acquired on", Day())
    retired_on: Mapped[date | None] = field("Retired on", Day())
    uses_before: Mapped[int | None] = field("Uses before the registry", Whole("uses", 0, 10000))


class Repair(Row, Base):
    """A repair of an item."""

    label, key_fields = "Repair", ("equipment_item_id", "repair_number")
    about = "Repairs of an item."

    equipment_item_id: Mapped[int] = link("Equipment item", "equipment_item")
    repair_number: Mapped[int] = field("Repair", Whole("", 1, 999), needed=Stage.ENTRY, default=1)
    repaired_on: Mapped[date] = field("Repaired on", Day(), needed=Stage.ENTRY)
    cost: Mapped[float | None] = field("Cost", Number("currency", 0, 10_000_000))
    currency: Mapped[Currency | None] = field("Currency", Code(Currency))
    note: Mapped[str | None] = field("Note", Note())


class EquipmentUse(Row, Base):
    """One attempt to use a piece of equipment on one treated side."""

    label, key_fields = "Equipment use", ("treated_side_id", "use_number")
    about = "One attempt to use a piece of equipment on one treated side, in order."

    treated_side_id: Mapped[int] = link("Treated side", "treated_side")
    use_number: Mapped[int] = field("Order of use", Whole("", 1, 99), needed=Stage.ENTRY, default=1)
    equipment_model_id: Mapped[int] = link("Equipment model", "equipment_model", arises=CHOICE)
    equipment_item_id: Mapped[int | None] = link("Equipment item", "equipment_item", needed=None)
    first_intended: Mapped[YesNo | None] = field("First intended", Code(YesNo), arises=CHOICE)
    result: Mapped[UseResult | None] = field("How it went", Code(UseResult), arises=ACCESS, needed=Stage.OPERATION)
    reason: Mapped[UseReason | None] = field("Why", Code(UseReason), arises=ACCESS)
    most_of_lithotripsy: Mapped[YesNo | None] = field("In place for most of the lithotripsy", Code(YesNo), arises=AFTER)
    replaces_use: Mapped[int | None] = field(
        "Replaces use", Whole("", 1, 99), arises=AFTER, help="the order number of the use it replaced"
    )
    lot: Mapped[str | None] = field("Lot", Text(40), identifying=True, source="GS1 AI 10")
    serial_as_scanned: Mapped[str | None] = field("Serial as scanned", Text(40), identifying=True, source="GS1 AI 21")
    udi: Mapped[str | None] = field("UDI as scanned", Text(200), identifying=True)
    minutes: Mapped[float | None] = field("Minutes in use", Number("min", 0, 1440, (1, 300)), arises=AFTER)
    failure_stage: Mapped[FailureStage | None] = field("Failed when", Code(FailureStage), arises=AFTER)
    failure_mode: Mapped[FailureMode | None] = field("What failed", Code(FailureMode), arises=AFTER)
    failure_consequence: Mapped[FailureConsequence | None] = field(
        "What followed", Code(FailureConsequence), arises=AFTER
    )
    delay_min: Mapped[int | None] = field("Delay", Whole("min", 0, 1440, (1, 120)), arises=AFTER)
    reportable: Mapped[Reportable | None] = field("Has to be reported", Code(Reportable))
    reported_to: Mapped[str | None] = field("Reported to", Text(80))
    reported_on: Mapped[date | None] = field("Reported on", Day())
    retained: Mapped[YesNo | None] = field("Equipment kept", Code(YesNo))
    note: Mapped[str | None] = field("Note", Note())


class Drain(Row, Base):
    """A stent, nephrostomy or catheter left in a renal unit."""

    label, key_fields = "Stent or nephrostomy", ("renal_unit_id", "placed_on", "drain_number")
    about = "A stent or nephrostomy left in a renal unit, until it is removed."

    renal_unit_id: Mapped[int] = link("Renal unit", "renal_unit")
    placed_on: Mapped[date] = field("Placed on", Day(imprecise=True), needed=Stage.ENTRY)
    placed_on_precision: Mapped[DatePrecision | None] = field(
        "Precision of placement", Code(DatePrecision), companion_of="placed_on"
    )
    drain_number: Mapped[int] = field("Number of the day", Whole("", 1, 9), needed=Stage.ENTRY, default=1)
    kind: Mapped[DrainKind] = field("Kind", Code(DrainKind), needed=Stage.ENTRY)
    placed_where: Mapped[Place | None] = field("Placed where", Code(Place))
    operation_id: Mapped[int | None] = link("Placed in operation", "operation", needed=None)
    size_tenths_fr: Mapped[int | None] = field("Calibre", french(20, 300, (40, 160)))
    on_string: Mapped[YesNo | None] = field("On a string", Code(YesNo))
    planned_removal_on: Mapped[date | None] = field("Removal planned on", Day(ahead=True))
    removed_on: Mapped[date | None] = field("Removed on", Day(imprecise=True), arises=FOLLOW_UP)
    removed_on_precision: Mapped[DatePrecision | None] = field(
        "Precision of removal", Code(DatePrecision), companion_of="removed_on"
    )
    removed_where: Mapped[RemovalPlace | None] = field("Removed where", Code(RemovalPlace), arises=FOLLOW_UP)
    changed: Mapped[YesNo | None] = field("Changed for a new one", Code(YesNo), arises=FOLLOW_UP)
    note: Mapped[str | None] = field("Note", Note())
