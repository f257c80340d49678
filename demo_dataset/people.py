"""The treatments of the invented practice."""

import numpy as np
import pandas as pd

from demo_dataset.anatomy import draw_teeth, is_molar, tooth_kind
from demo_dataset.planted import CUT_OFF

MONTHS = [f"{2024 + index // 12}-{index % 12 + 1:02d}" for index in range(30)]
# C06 and C07 work part-time.
CLINICIANS = {"C01": 0.2, "C02": 0.18, "C03": 0.17, "C04": 0.15, "C05": 0.15, "C06": 0.09,
              "C07": 0.06}  # fmt: skip
FIRST_SITE = ("C01", "C02", "C03", "C04")
PRIMARY_PULP = {
    "symptomatic_irreversible_pulpitis": 0.35, "asymptomatic_irreversible_pulpitis": 0.1,
    "pulp_necrosis": 0.4, "previously_initiated_therapy": 0.1, "normal_pulp": 0.03,
    "reversible_pulpitis": 0.02,
}  # fmt: skip
LESION_CHANCE = {"pulp_necrosis": 0.62, "previously_treated": 0.55,
                 "previously_initiated_therapy": 0.35}  # fmt: skip
WITH_LESION = {"asymptomatic_apical_periodontitis": 0.5,
               "symptomatic_apical_periodontitis": 0.28, "chronic_apical_abscess": 0.12,
               "acute_apical_abscess": 0.07,
               "condensing_osteitis": 0.03}  # fmt: skip
WITHOUT_LESION = {"normal_apical_tissues": 0.6, "symptomatic_apical_periodontitis": 0.38,
                  "acute_apical_abscess": 0.02}  # fmt: skip
AGES = {"10-19": 0.04, "20-29": 0.12, "30-39": 0.19, "40-49": 0.22, "50-59": 0.21,
        "60-69": 0.14, "70-79": 0.07, "80-89": 0.01}  # fmt: skip
COMPLICATIONS = {"none": 0.93, "ledge": 0.03, "perforation": 0.007, "blockage": 0.015,
                 "separated_instrument": 0.012, "other": 0.006}  # fmt: skip
RESTORATIONS = {"direct": 0.5, "crown": 0.3, "temporary": 0.15, "none": 0.03, "other": 0.02}


def pick(rng: np.random.Generator, shares: dict[str, float], count: int) -> np.ndarray:
    """Return `count` values drawn by their shares."""
    return rng.choice(list(shares), size=count, p=list(shares.values()))


def yes_no(flag: np.ndarray | pd.Series) -> np.ndarray:
    """Return `yes` and `no` for true and false."""
    return np.where(flag, "yes", "no")


def _visits(rng: np.random.Generator, count: int) -> pd.DataFrame:
    """Return one row per treatment: patient, clinician, tooth and month."""
    patients = int(np.ceil(count / 1.36))
    teeth = rng.choice([1, 2, 3, 4], size=patients, p=[0.72, 0.19, 0.06, 0.03])
    patient = np.repeat(np.arange(patients), teeth)
    rows = len(patient)
    own = np.repeat(pick(rng, CLINICIANS, patients), teeth)
    month = np.repeat(rng.integers(0, 30, patients), teeth)
    first = np.r_[True, patient[1:] != patient[:-1]]
    later = np.where(first, 0, rng.integers(0, 8, rows))
    visits = pd.DataFrame(
        {
            "patient": patient,
            "clinician_id": np.where(rng.random(rows) < 0.92, own, pick(rng, CLINICIANS, rows)),
            "tooth": draw_teeth(rng, rows),
            "month": np.minimum(month + later, 29),
            "age_band": np.repeat(pick(rng, AGES, patients), teeth),
        }
    )
    visits = visits.drop_duplicates(["patient", "tooth"]).head(count)
    return visits.sort_values(["month", "patient"], kind="stable").reset_index(drop=True)


def _diagnoses(rng: np.random.Generator, frame: pd.DataFrame) -> None:
    count = len(frame)
    retreatment = rng.random(count) < 0.18
    frame["treatment_type"] = np.where(retreatment, "retreatment", "primary")
    pulp = pick(rng, PRIMARY_PULP, count)
    frame["pulpal_diagnosis"] = np.where(retreatment, "previously_treated", pulp)
    chance = frame["pulpal_diagnosis"].map(LESION_CHANCE).fillna(0.04)
    lesion = rng.random(count) < chance
    frame["has_lesion"] = lesion
    frame["apical_diagnosis"] = np.where(
        lesion, pick(rng, WITH_LESION, count), pick(rng, WITHOUT_LESION, count)
    )
    large = rng.choice([3, 4, 5], size=count, p=[0.35, 0.45, 0.2])
    small = rng.choice([1, 2], size=count, p=[0.7, 0.3])
    frame["preop_pai"] = np.where(lesion, large, small)
    width = np.clip(np.round(2 * (1 + rng.gamma(2.0, 1.5, count))) / 2, 1.0, 15.0)
    frame["preop_lesion_mm"] = np.where(lesion, width, 0.0)


def _circumstances(rng: np.random.Generator, frame: pd.DataFrame) -> None:
    count = len(frame)
    posterior = frame["tooth"].str[1].astype(int) >= 4
    frame["metal_restoration"] = yes_no(rng.random(count) < np.where(posterior, 0.3, 0.08))
    frame["isolation"] = yes_no(rng.random(count) < 0.95)
    harder = rng.random(count) + 0.25 * frame["is_molar"]
    frame["difficulty"] = np.select([harder > 0.95, harder > 0.55], ["high", "moderate"], "low")
    frame["restoration"] = pick(rng, RESTORATIONS, count)
    frame["restoration_adequate"] = yes_no(rng.random(count) < 0.88)
    frame["complication"] = pick(rng, COMPLICATIONS, count)


def treatments(rng: np.random.Generator, count: int) -> pd.DataFrame:
    """Return the treatments, complete, with the latent columns other parts need."""
    frame = _visits(rng, count)
    numbers = rng.permutation(frame["patient"].nunique()) + 1
    order = pd.factorize(frame["patient"])[0]
    frame["patient"] = order
    frame["patient_id"] = [f"P{numbers[item]:05d}" for item in order]
    frame["treatment_id"] = [f"T{item + 1:05d}" for item in range(len(frame))]
    both = np.where(rng.random(len(frame)) < 0.5, "S1", "S2")
    site = np.where(frame["clinician_id"].isin(FIRST_SITE), "S1", "S2")
    frame["site_id"] = np.where(frame["clinician_id"] == "C07", both, site)
    frame["period"] = np.array(MONTHS)[frame["month"]]
    frame["tooth_number"] = np.arange(len(frame))
    frame["kind"] = tooth_kind(frame["tooth"])
    frame["is_molar"] = is_molar(frame["tooth"])
    month_end = pd.PeriodIndex(frame["period"], freq="M").to_timestamp(how="end").normalize()
    frame["days_to_cut_off"] = (pd.Timestamp(CUT_OFF) - month_end).days
    _diagnoses(rng, frame)
    _circumstances(rng, frame)
    return frame
