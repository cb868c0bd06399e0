"""What the parts of a mapping have to agree on with each other and with the declarations of the fields."""

from __future__ import annotations

from collections.abc import Iterator

from registry.intake.log_mapping import Constant, MappedColumn, Mapping
from registry.intake.log_mapping_targets import Target, layouts, number_heading, parents_of
from registry.intake.log_values import special_words
from registry.intake.log_values_numbers import CLOCK_UNITS, FEET_AND_INCHES
from registry.intake.theatre_list_targets import check_list
from registry.intake.units import belongs, unit_names
from registry.intake.values import parse
from registry.intake.wordings import reason_in
from registry.schema.fields import Code, Number, Whole
from registry.schema.sheets import SEPARATOR

# Units in which a value is typed in two parts, with the unit into which they are put together.
_PARTS = {FEET_AND_INCHES: "in"}
_TIMES = ("s", "min", "h", "d")
# What a row as a whole says for all that hangs on it.
_GIVEN = frozenset(
    [
        "site",
        "study_number",
        "operated_on",
        "day_number",
        "unit",
        "unit_number",
        "course_number",
        "placed_on",
        "model_code",
        "belongs_to",
    ]
)


def check_mapping(mapping: Mapping, mistakes: list[str]) -> None:
    """Note every unit, translation and constant that its field cannot take, and what is needed and comes from nowhere.

    Args:
        mapping: the mapping.
        mistakes: takes a sentence for each.
    """
    for column in mapping.columns:
        _check_units(column, mistakes)
        _check_translations(column, mistakes)
    for constant in mapping.constants:
        _check_constant(constant, mistakes)
    check_list(mapping, mistakes)
    if mapping.kind != "theatre_list":
        _check_person(mapping, mistakes)
    if mapping.kind == "log":
        _check_needed(mapping, mistakes)


def _check_units(column: MappedColumn, mistakes: list[str]) -> None:
    numbers = [t for t in column.to if isinstance(t.info.kind, Whole | Number)]
    if column.form.unit and not numbers and column.to:
        mistakes.append(f"{column.name}, key unit: {column.to[0].text} is no number, so that it has no unit")
    asked = [(target, column.form.unit) for target in numbers]
    asked += [(piece.target, piece.unit) for pattern in column.splits for piece in pattern.pieces]
    for target, unit in asked:
        own = target.info.typed_unit
        fits = own in _TIMES if unit in CLOCK_UNITS else belongs(target.info, _PARTS.get(unit, unit))
        if unit and not fits:
            names = unit_names(target.info) + (list(CLOCK_UNITS) if own in _TIMES else [])
            names += [FEET_AND_INCHES] if own and belongs(target.info, "in") and own != "Fr" else []
            right = f"one of: {', '.join(names)}" if names else "no unit: the field has none"
            mistakes.append(f"{column.name}, key unit: '{unit}' is not a unit of {target.text}; {right}")


def _check_translations(column: MappedColumn, mistakes: list[str]) -> None:
    for name, translation in column.form.values.items():
        targets = [t for t in column.targets if name in ("", t.text)]
        if not targets and not column.status:
            mistakes.append(f"{column.name}, key values: the column does not read {name}")
        coded = [t for t in targets if isinstance(t.info.kind, Code)]
        if name == "" and column.splits:
            targets = coded or targets
        for word, meaning in translation.items():
            faults = [fault for t in targets if (fault := fault_of(t, meaning)) is not None]
            if faults and len(faults) == len(targets):
                mistakes.append(f"{column.name}, key values: '{word}' = '{meaning}': {faults[0]}")


def fault_of(target: Target, meaning: str) -> str | None:
    """Why a field cannot take a value that a mapping writes for it; None where it can."""
    if not meaning.strip() or meaning in special_words(target) or reason_in(meaning, marked_only=True) is not None:
        return None
    parts = meaning.split(SEPARATOR.strip()) if target.column.folded else [meaning]
    for part in parts:
        parsed = parse(target.info, part)
        if parsed.failed:
            problem = parsed.problems[0]
            return f"{target.text} does not take it: {problem.why} Right: {problem.right}"
    return None


def _check_constant(constant: Constant, mistakes: list[str]) -> None:
    if constant.same_as is not None:
        return
    fault = fault_of(constant.to, constant.value)
    if fault is not None:
        mistakes.append(f"{constant.name}, key value: '{constant.value}': {fault}")


def _check_person(mapping: Mapping, mistakes: list[str]) -> None:
    texts = {target.text for column in mapping.columns for target in column.targets}
    named = {"patient_identity.family_name", "patient_identity.birth_date"} <= texts
    if not named and not texts & {"hospital_number.number", "patient.study_number"}:
        mistakes.append(
            'the mapping: no [[column]] says whose a row is; one with to = "hospital_number.number" is needed, or '
            "patient.study_number, or patient_identity.family_name with patient_identity.birth_date"
        )


def _check_needed(mapping: Mapping, mistakes: list[str]) -> None:
    """Without some fields a row cannot be kept; each has to come from a column or a constant."""
    texts = {target.text for column in mapping.columns for target in column.targets}
    texts |= {constant.to.text for constant in mapping.constants}
    tables = {target.table for column in mapping.columns for target in column.targets}
    tables |= {"reading"} if any(column.status for column in mapping.columns) else set()
    tables |= {"treated_side"} if "operation.operated_on" in texts else set()
    for table in [*tables]:
        tables.update(_ancestors(table))
    if tables & {"operation", "treated_side"} and texts & {"operation.purpose", "treated_side.intent"}:
        texts |= {"operation.purpose", "treated_side.intent"}
    for table in layouts():
        if table not in tables or table in ("site", "hospital_number", "equipment_model", "local_field", "operator"):
            continue
        for heading in _needed(table):
            if f"{table}.{heading}" not in texts:
                title = layouts()[table].title.lower()
                mistakes.append(
                    f"the mapping: {table}.{heading} is needed for every {title}; "
                    "a [[column]] or a [[constant]] has to give it"
                )


def _ancestors(table: str) -> Iterator[str]:
    for parent in parents_of(table):
        yield parent
        yield from _ancestors(parent)


def _needed(table: str) -> Iterator[str]:
    for column in layouts()[table].columns:
        own = column.info.table == table and not (column.links and not column.in_key)
        if column.links or column.folded or not own or column.heading in _GIVEN:
            continue
        if column.info.required and column.info.default is None and column.heading != number_heading(table):
            yield column.heading
