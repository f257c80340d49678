"""How bias and spread move with a condition or with time (A7) in known practices."""

import numpy as np
import pandas as pd

from lengthwise.statistics.agreement.conditions import condition_effects, trend_effect
from lengthwise.statistics.results import Estimate

from .agreement import tried_of
from .practices import differences, layout
from .study import Cell, Study, Tried

SD_MM = 0.4
SHIFT_MM, SD_RATIO = -0.15, 1.5
PER_YEAR_MM, SD_RATIO_PER_YEAR = 0.05, 1.1
WET, METAL, YEARS = 0.3, 0.25, 3.0
# Metal contact shifts too and goes with wet canals, so that crude is not adjusted.
METAL_SHIFT_MM = -0.1
LEAST = 10


def conditions(cell: Cell, simulations: int, random: np.random.Generator) -> list[Tried]:
    """Try shift and ratio of SDs of one condition and of time, as adjusted in the report."""
    where = layout(cell["canals"], cell["patients"])
    drawn = differences(where, cell["icc"], cell["errors"], random, simulations)
    found: dict[str, list[Estimate]] = {}
    for own in drawn:
        n = where.n_canals
        wet = random.random(n) < WET
        metal = random.random(n) < np.where(wet, METAL + 0.2, METAL)
        year = random.uniform(0, YEARS, cell["patients"])[where.patient]
        year -= year.mean()
        sd = SD_MM * SD_RATIO**wet * SD_RATIO_PER_YEAR**year
        length = random.normal(20, 2, n)
        method = (
            length + SHIFT_MM * wet + METAL_SHIFT_MM * metal + PER_YEAR_MM * year + sd * own
        )
        contact = pd.DataFrame({"metal": np.where(metal, "metal contact", "none")})
        level = condition_effects(
            method, length, np.where(wet, "wet", "dry"), patient=where.patient,
            reference_level="dry", covariates=contact, minimum_per_level=LEAST,
        ).levels[1]  # fmt: skip
        trend = trend_effect(
            method, length, year, patient=where.patient,
            covariates=contact.assign(state=np.where(wet, "wet", "dry")),
        )  # fmt: skip
        for quantity, value in (
            ("shift of bias", level.bias_adjusted_mm),
            ("ratio of SDs", level.sd_ratio_adjusted),
            ("shift per year", trend.bias_adjusted_mm),
            ("ratio of SDs per year", trend.sd_ratio_adjusted),
        ):
            found.setdefault(quantity, []).append(value)
    truth = (SHIFT_MM, SD_RATIO, PER_YEAR_MM, SD_RATIO_PER_YEAR)
    return [
        tried_of("by patient", quantity, true, values)
        for (quantity, values), true in zip(found.items(), truth, strict=True)
    ]


STUDIES = (
    Study(
        "agreement_conditions",
        "A7: shift of bias and ratio of SDs by condition and by year",
        {
            "canals": ("1 or 2", "1 to 5"), "icc": (0.0, 0.5), "patients": (30, 60, 200),
            "errors": ("normal", "strongly skewed"),
        },
        conditions,
        simulations=300,
    ),
)  # fmt: skip
