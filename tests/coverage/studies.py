"""Every study of the bench, by name: a new one is one more entry here."""

from . import (
    agreement,
    coefficients,
    conditions,
    dose,
    lines,
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
    standardised, dose, outcome_crude,
)  # fmt: skip
STUDIES: dict[str, Study] = {one.name: one for module in _MODULES for one in module.STUDIES}
