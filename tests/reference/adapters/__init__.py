"""One dictionary from method id to the thin translation that answers it."""

from collections.abc import Callable
from typing import Any

import pandas as pd

from reference.adapters import agreement, outcome, process
from reference.adapters.not_offered import NOT_OFFERED

Adapter = Callable[[pd.DataFrame | None, dict[str, Any]], dict[str, Any]]

METHODS: dict[str, Adapter] = {**agreement.METHODS, **process.METHODS, **outcome.METHODS}

__all__ = ["METHODS", "NOT_OFFERED", "Adapter"]
