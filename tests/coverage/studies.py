"""Every study of the bench, by name: a new one is one more entry here."""

from . import agreement, outcome, outcome_crude, process
from .study import Study

_MODULES = (agreement, outcome, outcome_crude, process)
STUDIES: dict[str, Study] = {one.name: one for module in _MODULES for one in module.STUDIES}
