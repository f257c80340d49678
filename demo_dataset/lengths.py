"""Canals and the readings of their lengths."""

import numpy as np
import pandas as pd

from demo_dataset import anatomy
from demo_dataset.people import MONTHS, yes_no
from demo_dataset.planted import ACTION_MONTH, size

# Share of canals read by each method, the step its readings are kept in, and its stage.
SIMPLE_METHODS = {
    "film": (0.75, 0.5, "initial"),
    "film_file": (0.45, 0.5, "after_flaring"),
    "cbct": (0.1, 0.1, "initial"),
    "tactile": (0.35, 0.5, "initial"),
    "paper_point": (0.2, 0.5, "before_filling"),
    "trial_cone": (0.4, 0.5, "before_filling"),
}
# Chance that the file is 0, 1, 2, ... ISO sizes under the gauged apex; chance of a wet canal.
STAGES = {
    "initial": ((0.0, 0.3, 0.25, 0.2, 0.15, 0.1), 0.3, (1.0, 0.0, 0.0)),
    "after_flaring": ((0.3, 0.3, 0.2, 0.15, 0.05, 0.0), 0.35, (0.6, 0.4, 0.0)),
    "after_preparation": ((0.5, 0.25, 0.12, 0.1, 0.03, 0.0), 0.25, (0.25, 0.5, 0.25)),
}
KEYS = ["treatment_id", "canal"]
LATENT = ["kind", "patient", "tooth_number", "clinician_id", "true_mm", "curved"]


def to_step(value: np.ndarray, step: np.ndarray | float) -> np.ndarray:
    """Return values rounded to the step they are kept in."""
    return np.round(np.round(value / step) * step, 1)


def canals(rng: np.random.Generator, treated: pd.DataFrame) -> pd.DataFrame:
    """Return one row per canal with its true length and other latent columns."""
    frame = treated.assign(
        canal=anatomy.draw_canal_sets(rng, treated["kind"]).str.split(" "),
        tooth_z=np.clip(rng.standard_normal(len(treated)), -2.2, 2.2),
    )
    frame = frame.explode("canal", ignore_index=True)
    count = len(frame)
    frame["root"] = anatomy.roots(frame["canal"], frame["kind"])
    mean = frame["kind"].map({name: row[0] for name, row in anatomy.LENGTHS_MM.items()})
    spread = np.where(frame["kind"].str[1] == "8", 0.8, 1.3)
    own = 0.6 * np.clip(rng.standard_normal(count), -2.2, 2.2)
    shift = frame["canal"].map(anatomy.CANAL_SHIFT_MM).fillna(0.0) * frame["is_molar"]
    frame["true_mm"] = mean - 0.9 + spread * frame["tooth_z"] + own + shift
    narrow = frame["canal"].isin(anatomy.NARROW) & frame["is_molar"]
    mesial = frame["canal"].isin(["MB", "MB2", "ML", "MM"]) & frame["is_molar"]
    frame["curved"] = rng.random(count) < np.where(mesial, 0.6, 0.1)
    frame["apical_size_iso"] = np.where(
        narrow,
        rng.choice([25, 30, 35, 40], size=count, p=[0.3, 0.35, 0.25, 0.1]),
        rng.choice([30, 35, 40, 45, 50, 60], size=count, p=[0.15, 0.25, 0.3, 0.15, 0.1, 0.05]),
    )
    frame["taper_pct"] = rng.choice([4.0, 6.0, 7.0], size=count, p=[0.45, 0.45, 0.1])
    frame["patency"] = yes_no(rng.random(count) < 0.93)
    front = frame["kind"].str[1].isin(["1", "2", "3"])
    point = np.where(front, "incisal_edge", "cusp_tip")
    other = rng.choice(["flattened_surface", "restoration_margin"], size=count)
    frame["reference_point"] = np.where(rng.random(count) < 0.7, point, other)
    step = np.where(rng.random(count) < size("confirmed_half_mm_share"), 0.5, 0.1)
    worked = frame["true_mm"] + size("confirmed_own_sd") * rng.standard_normal(count)
    frame["confirmed_length_mm"] = to_step(worked.to_numpy(), step)
    return frame


def _simple(rng: np.random.Generator, frame: pd.DataFrame) -> list[pd.DataFrame]:
    """Return the readings of every method but the electronic one."""
    shared = size("film_shared_sd") * rng.standard_normal(len(frame))
    parts = []
    for method, (share, step, stage) in SIMPLE_METHODS.items():
        scatter = size(f"{method}_sd")
        error = scatter * rng.standard_normal(len(frame))
        if method in ("film", "film_file"):
            own = np.sqrt(scatter**2 - size("film_shared_sd") ** 2)
            error = shared + own / scatter * error
        value = to_step(frame["true_mm"] + size(f"{method}_bias") + error, step)
        part = frame[KEYS + LATENT].assign(
            method=method, stage=stage, replicate=1, length_mm=value, order=len(parts)
        )
        parts.append(part[rng.random(len(frame)) < share])
    return parts


def _conditions(rng: np.random.Generator, part: pd.DataFrame, stage: str) -> pd.DataFrame:
    """Add the conditions of one canal's electronic readings at one stage."""
    count = len(part)
    under, wet, _ = STAGES[stage]
    sizes = rng.choice(len(under), size=count, p=under)
    gauge = np.searchsorted(anatomy.ISO_SIZES, part["apical_size_iso"].to_numpy())
    metal = np.where(part["metal_restoration"] == "yes", 0.2, 0.01)
    return part.assign(
        stage=stage,
        file_size_iso=anatomy.ISO_SIZES[np.maximum(gauge - sizes, 0)],
        small_file=np.minimum(sizes, gauge) >= 3,
        canal_state=np.where(rng.random(count) < wet, "wet", "dry"),
        metal_contact=yes_no(rng.random(count) < metal),
        circuit_checked=yes_no(rng.random(count) < 0.75),
        electrode=np.where(rng.random(count) < 0.3, "fork", "clip"),
        stable=yes_no(rng.random(count) < 0.93),
        second_observer=rng.random(count) < 0.15,
    )


def _electronic_mm(rng: np.random.Generator, part: pd.DataFrame) -> np.ndarray:
    """Return electronic readings under their conditions."""
    wet, metal = part["canal_state"] == "wet", part["metal_contact"] == "yes"
    scatter = (
        size("electronic_within_sd")
        * np.where(wet, size("electronic_wet_scatter"), 1.0)
        * np.where(metal, size("metal_contact_scatter"), 1.0)
        * np.where(part["small_file"], size("small_file_scatter"), 1.0)
    )
    longer = part["stage"].map(
        {"initial": size("curved_initial_shift"), "after_flaring": size("curved_flaring_shift")}
    )
    bias = (
        size("electronic_dry_bias")
        + np.where(wet, size("electronic_wet_shift"), 0.0)
        + np.where(metal, size("metal_contact_shift"), 0.0)
        + longer.fillna(0.0) * part["curved"]
    )
    error = part["electronic_shift"] + scatter * rng.standard_normal(len(part))
    return to_step((part["true_mm"] + bias + error).to_numpy(), 0.1)


def _electronic(rng: np.random.Generator, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the electronic readings of every stage, with replicates."""
    teeth, people = frame["tooth_number"].max() + 1, frame["patient"].max() + 1
    shift = (
        size("electronic_patient_sd") * rng.standard_normal(people)[frame["patient"]]
        + size("electronic_tooth_sd") * rng.standard_normal(teeth)[frame["tooth_number"]]
        + size("electronic_canal_sd") * rng.standard_normal(len(frame))
    )
    late = frame["month"] >= MONTHS.index(ACTION_MONTH)
    reconfirmed = np.where(
        late, size("reconfirmed_share_after"), size("reconfirmed_share_before")
    )
    base = frame[[*KEYS, *LATENT, "apical_size_iso", "metal_restoration"]].assign(
        electronic_shift=shift
    )
    parts = []
    for order, stage in enumerate(STAGES):
        share = {"initial": 0.6, "after_flaring": 0.35}.get(stage, reconfirmed)
        part = _conditions(rng, base[rng.random(len(base)) < share], stage)
        times = rng.choice([1, 2, 3], size=len(part), p=STAGES[stage][2])
        part = part.loc[part.index.repeat(times)].assign(order=10 + order)
        part["replicate"] = part.groupby(level=0).cumcount() + 1
        parts.append(part)
    readings = pd.concat(parts)
    return readings.assign(method="electronic", length_mm=_electronic_mm(rng, readings))


def readings(rng: np.random.Generator, frame: pd.DataFrame) -> pd.DataFrame:
    """Return every reading; the few outside the soft limits of their tooth are not made."""
    every = pd.concat([*_simple(rng, frame), _electronic(rng, frame)])
    every["canal_row"] = every.index
    every = every.sort_values(["canal_row", "order", "replicate"], kind="stable")
    low, high = anatomy.soft_limits_mm(every["kind"])
    every = every[(every["length_mm"] >= low) & (every["length_mm"] <= high)]
    assistant = rng.choice(["A01", "A02", "A03"], size=len(every))
    group = every.groupby(["canal_row", "order"], sort=False).ngroup().to_numpy()
    helped = (rng.random(group.max() + 1) < 0.25)[group]
    observer = every["clinician_id"].where(~helped, assistant[group])
    other = every["second_observer"].eq(True) & (every["replicate"] >= 2)
    every["observer_id"] = observer.mask(other, "A04")
    return every.reset_index(drop=True)
