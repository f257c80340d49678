"""Rows for the comparison with statsmodels: canals and teeth in patients, as the demo has them."""

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd

from bench.bench_agreement import canals
from bench.bench_gee import teeth

PATIENTS_PER_CANAL = 0.3
TEETH_PER_CANAL = 1.6 / 3
# Recorded with a reading: levels of each condition, the reference first.
CONDITIONS = {
    "state": ("dry", "wet"),
    "metal": ("no metal contact", "metal contact"),
    "file": ("fitting file", "small file"),
    "stage": ("before_filling", "initial", "after_flaring", "after_preparation"),
    "stability": ("stable", "unstable"),
    "tooth_type": ("molar", "anterior", "premolar"),
}
COVARIATES = ("lesion", "molar", "retreatment", "months", "restoration")


@dataclass(frozen=True)
class Canals:
    """Readings of n canals by three methods, twice by the first, with what was recorded."""

    method: np.ndarray
    reference: np.ndarray
    third: np.ndarray
    again: np.ndarray
    patient: np.ndarray
    tooth: np.ndarray
    conditions: pd.DataFrame
    years: np.ndarray

    @property
    def difference(self) -> np.ndarray:
        return self.method - self.reference


def canal_rows(n: int) -> Canals:
    """Return n canals of about 1.5 teeth and 3.3 canals a patient."""
    drawn = canals(n, round(n * PATIENTS_PER_CANAL))
    # Exports list the canals of a tooth one after the other.
    order = np.argsort(drawn[3], kind="stable")
    method, reference, patient, tooth = (column[order] for column in drawn)
    generator = np.random.default_rng(7)
    conditions = pd.DataFrame(
        {
            name: pd.Categorical.from_codes(generator.integers(len(levels), size=n), levels)
            for name, levels in CONDITIONS.items()
        }
    )
    method = method + 0.1 * (conditions["state"] == "wet").to_numpy()
    truth, reference = reference, reference + 0.2 * generator.standard_normal(n)
    return Canals(
        method.round(2), reference.round(2),
        (truth + 0.3 * generator.standard_normal(n)).round(2),
        (method + 0.2 * generator.standard_normal(n)).round(2),
        patient, tooth, conditions, generator.uniform(-1, 1, n),
    )  # fmt: skip


def tooth_rows(n: int) -> Any:
    """Return the teeth of n canals: outcome, level, case-mix, offset, index and reviews."""
    count = round(n * TEETH_PER_CANAL)
    outcome, design, patient = teeth(count)
    generator = np.random.default_rng(11)
    short, beyond = design[:, 1], design[:, 2]
    covariates = np.column_stack(
        [
            *(generator.random(count) < 0.4 for _ in range(3)),
            generator.integers(0, 37, count),
            generator.random(count) < 0.2,
        ]
    ).astype(float)
    offset = np.select(
        [short == 1, beyond == 1],
        [-2 - generator.exponential(0.7, count), generator.exponential(0.7, count)],
        -2 * generator.random(count),
    )
    healed = np.ceil(generator.exponential(20, count) / 6) * 6
    seen = 12 * generator.integers(1, 5, count)
    return SimpleNamespace(
        outcome=outcome, exposure=design[:, 1:3].copy(), covariates=covariates, patient=patient,
        level=np.select([short == 1, beyond == 1], ["short", "beyond"], "within").astype(object),
        offset=offset.round(1),
        index=np.clip(1 + outcome + generator.poisson(1.2, count), 1, 5),
        reviewed=(generator.random(count) < 0.5 + 0.2 * covariates[:, 0]).astype(float),
        months=generator.exponential(60, count).round(1) + 0.1, lost=generator.random(count) < 0.2,
        left=np.where(healed <= seen, healed - 6, seen).astype(float),
        right=np.where(healed <= seen, healed, np.inf),
        healed=healed <= seen, years=np.ceil(np.minimum(healed, seen) / 12),
    )  # fmt: skip


def reader_rows(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return two readings of the index on the teeth of n canals, and the patients."""
    rows = tooth_rows(n)
    generator = np.random.default_rng(13)
    other = np.clip(rows.index + generator.integers(-1, 2, rows.index.size), 1, 5)
    return rows.index, other, rows.patient
