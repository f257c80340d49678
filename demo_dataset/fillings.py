"""Where fillings end, and how readers saw them."""

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

from demo_dataset.lengths import KEYS
from demo_dataset.people import MONTHS, yes_no
from demo_dataset.planted import ACTION_MONTH, DRIFT_CLINICIAN, DRIFT_MONTH, size

CLINICIAN_SHIFT_MM = {"C01": 0.05, "C02": -0.05, "C04": -0.1, "C06": 0.08}
DOUBLE_READ_SHARE = 0.15
REPEAT_READ_SHARE = 0.06


def _canal_means(readings: pd.DataFrame, frame: pd.DataFrame) -> pd.DataFrame:
    """Return each canal's mean electronic difference at its last stage, and its discordance."""
    row = readings["canal_row"]
    confirmed = frame["confirmed_length_mm"].to_numpy()
    difference = readings["length_mm"] - confirmed[row]
    electronic = readings["method"] == "electronic"
    last = readings["order"].where(electronic).groupby(row).transform("max")
    at_last = electronic & (readings["order"] == last)
    means = difference[at_last].groupby(row).mean().reindex(frame.index)
    film_file = difference[readings["method"] == "film_file"].groupby(row).first()
    apart = (film_file.reindex(frame.index) - means).abs() > 1.0
    return pd.DataFrame({"electronic_mm": means.fillna(0.0), "is_discordant": apart})


def _quantiles(rng: np.random.Generator, frame: pd.DataFrame) -> np.ndarray:
    """Return uniform numbers correlated within patients and teeth."""
    people, teeth = frame["patient"].max() + 1, frame["tooth_number"].max() + 1
    z = (
        np.sqrt(0.20) * rng.standard_normal(people)[frame["patient"]]
        + np.sqrt(0.25) * rng.standard_normal(teeth)[frame["tooth_number"]]
        + np.sqrt(0.55) * rng.standard_normal(len(frame))
    )
    return ndtr(z)


def _with_odds(
    mean: np.ndarray, draw: np.ndarray, short: np.ndarray, beyond: np.ndarray
) -> np.ndarray:
    """Return offsets whose odds of short and of beyond (against within) are multiplied."""
    spread = size("offset_sd")
    low = ndtr((-2.0 - mean) / spread)
    high = ndtr(mean / spread)
    weights = np.array([low * short, 1 - low - high, high * beyond])
    new_low, _, new_high = weights / weights.sum(axis=0)
    base = np.select(
        [draw < new_low, draw > 1 - new_high],
        [draw / new_low * low, 1 - (1 - draw) / new_high * high],
        low + (draw - new_low) / (1 - new_low - new_high) * (1 - low - high),
    )
    return mean + spread * ndtri(np.clip(base, 1e-6, 1 - 1e-6))


def record_mm(offset: np.ndarray, step: np.ndarray | float) -> np.ndarray:
    """Return offsets in the reader's steps, never rounded across 0 or -2 mm."""
    steps = offset / step
    whole = np.select(
        [offset > 0, offset < -2.0],
        [np.maximum(np.round(steps), 1), np.minimum(np.round(steps), -np.round(2 / step) - 1)],
        np.clip(np.round(steps), -np.round(2 / step), 0),
    )
    return np.round(whole * step, 1) + 0.0


def level(offset: np.ndarray | pd.Series) -> np.ndarray:
    """Return `short`, `within` or `beyond`."""
    return np.select([offset > 0, offset < -2.0], ["beyond", "short"], "within")


def offsets(
    rng: np.random.Generator, frame: pd.DataFrame, readings: pd.DataFrame
) -> pd.DataFrame:
    """Return the canals with `offset_mm`, the reading of record."""
    means = _canal_means(readings, frame)
    expected = (
        size("offset_mean")
        + size("molar_shift") * frame["is_molar"]
        + size("curved_shift") * frame["curved"]
        + size("electronic_carry_over") * means["electronic_mm"]
        + size("discordance_shift") * means["is_discordant"]
        + frame["clinician_id"].map(CLINICIAN_SHIFT_MM).fillna(0.0)
    ).to_numpy()
    drifting = (frame["clinician_id"] == DRIFT_CLINICIAN) & (
        frame["month"] >= MONTHS.index(DRIFT_MONTH)
    )
    acted = frame["month"] >= MONTHS.index(ACTION_MONTH)
    short = np.where(acted, size("action_short_odds_ratio"), 1.0)
    beyond = np.where(drifting, size("drift_beyond_odds_ratio"), 1.0)
    exact = _with_odds(expected, _quantiles(rng, frame), short, beyond)
    step = np.where(rng.random(len(frame)) < 0.35, 0.5, 0.1)
    return frame.assign(exact_mm=exact, step=step, offset_mm=record_mm(exact, step))


def _again(
    rng: np.random.Generator, first: pd.DataFrame, name: str, bias: float
) -> pd.DataFrame:
    error = bias + size(f"{name}_difference_sd") * rng.standard_normal(len(first))
    return first.assign(
        offset_mm=record_mm((first["exact_mm"] + error).to_numpy(), first["step"])
    )


def _features(rng: np.random.Generator, fills: pd.DataFrame) -> pd.DataFrame:
    """Add what else each reader saw; flags agree with the offset of the same reading."""
    count = len(fills)
    beyond = fills["offset_mm"] > 0
    core = beyond & (rng.random(count) < 0.6)
    puff = rng.random(count) < np.where(beyond, 0.7, 0.1)
    changed = rng.random(count) < 0.06
    return fills.assign(
        fill_offset_mm=fills["offset_mm"],
        core_beyond=yes_no(core),
        sealer_beyond=yes_no(puff | (beyond & ~core)),
        voids=yes_no((fills["void_draw"] < 0.16) ^ changed),
        taper_ok=yes_no((fills["taper_draw"] < 0.88) ^ (rng.random(count) < 0.05)),
        film_quality=np.where(fills["film_draw"] < size("film_acceptable_share"), "A", "N"),
    )


def fills(rng: np.random.Generator, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the readings of the fillings: 15 in 100 by two independent readers."""
    count = len(frame)
    base = frame.assign(
        void_draw=rng.random(count), taper_draw=rng.random(count), read=1,
        film_draw=rng.random(frame["tooth_number"].max() + 1)[frame["tooth_number"]],
    )  # fmt: skip
    double = rng.random(count) < DOUBLE_READ_SHARE
    base["reader_id"] = np.where(double, "R1", base["clinician_id"])
    base = base.assign(row=np.arange(count))
    filled = rng.random(count) < 0.99
    second = _again(rng, base[double & filled], "reader", size("reader_difference_bias"))
    repeated = base[~double & filled & (rng.random(count) < REPEAT_READ_SHARE)]
    repeat = _again(rng, repeated, "repeat", 0.0).assign(read=2)
    every = pd.concat([base[filled], second.assign(reader_id="R2"), repeat])
    every = _features(rng, every).sort_values(["row", "reader_id", "read"], kind="stable")
    columns = ["fill_offset_mm", "core_beyond", "sealer_beyond", "voids", "taper_ok",
               "film_quality", "reader_id", "read"]  # fmt: skip
    return every[KEYS + columns].reset_index(drop=True)
