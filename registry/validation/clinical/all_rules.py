"""Every clinical rule, in the order of the story."""

from __future__ import annotations

from functools import cache

from registry.validation.clinical.complications import COMPLICATIONS
from registry.validation.clinical.courses import COURSES
from registry.validation.clinical.drains import DRAINS
from registry.validation.clinical.energy import ENERGY
from registry.validation.clinical.equipment import EQUIPMENT
from registry.validation.clinical.equipment_life import EQUIPMENT_LIFE
from registry.validation.clinical.flow import FLOW
from registry.validation.clinical.imaging import IMAGING
from registry.validation.clinical.infection import INFECTION
from registry.validation.clinical.people import PEOPLE
from registry.validation.clinical.rule import ClinicalRule
from registry.validation.clinical.scanned import SCANNED
from registry.validation.clinical.sides import SIDES
from registry.validation.clinical.stones import STONES

CLINICAL_RULES: tuple[ClinicalRule, ...] = (
    *PEOPLE,
    *COURSES,
    *SIDES,
    *STONES,
    *EQUIPMENT,
    *EQUIPMENT_LIFE,
    *SCANNED,
    *ENERGY,
    *FLOW,
    *DRAINS,
    *INFECTION,
    *COMPLICATIONS,
    *IMAGING,
)


@cache
def rules_by_id() -> dict[str, ClinicalRule]:
    """The clinical rules by their id."""
    return {rule.id: rule for rule in CLINICAL_RULES}
