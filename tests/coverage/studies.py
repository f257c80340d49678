"""Every study of the bench, by name: a new one is one more entry here."""

from . import (
    agreement,
    coefficients,
    conditions,
    dose,
    healing,
    lines,
    other_models,
    outcome,
    outcome_crude,
    own_errors,
    process,
    readers,
    standardised,
    within,
)
from .study import Study

_MODULES = (
    agreement, own_errors, lines, within, conditions, coefficients, readers, process, outcome,
    standardised, dose, outcome_crude, healing, other_models,
)  # fmt: skip
STUDIES: dict[str, Study] = {one.name: one for module in _MODULES for one in module.STUDIES}
