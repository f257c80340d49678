"""Blanks at random, with the words a practice writes for them."""

import numpy as np
import pandas as pd

# Share missing; optional fields that are not named here take USUAL_SHARE. Fields in NEVER
# belong to a key, or a blank in them would itself be a finding.
USUAL_SHARE = 0.09
SHARES = {
    "site_id": 0.03, "treatment_type": 0.03, "preop_pai": 0.05, "confirmed_length_mm": 0.02,
    "canal_state": 0.04, "metal_contact": 0.04, "file_size_iso": 0.05, "apical_size_iso": 0.05,
    "fill_offset_mm": 0.03, "core_beyond": 0.04, "sealer_beyond": 0.04, "film_quality": 0.04,
    "pai": 0.03, "pain": 0.02, "swelling": 0.02, "sinus_tract": 0.02, "tenderness": 0.02,
    "function": 0.03, "complication": 0.03,
}  # fmt: skip
NEVER = {
    "treatment_id", "patient_id", "clinician_id", "tooth", "period", "canal", "method", "stage",
    "replicate", "length_mm", "reader_id", "read", "observer_id", "days_from_treatment",
    "imaging", "tooth_present", "loss_reason", "kind",
}  # fmt: skip
ON_FILM = {"preop_pai", "preop_lesion_mm", "fill_offset_mm", "core_beyond", "sealer_beyond",
           "voids", "taper_ok", "pai", "cbct_pai"}  # fmt: skip
UNREADABLE_ON_POOR_FILM = 0.6


def as_text(column: pd.Series) -> pd.Series:
    """Return a column as the text of the export: one decimal for millimetres and per cent."""
    if column.name.endswith("_mm") or column.name == "taper_pct":
        return column.map(lambda value: f"{value:.1f}")
    if pd.api.types.is_float_dtype(column):
        return column.map(lambda value: "" if np.isnan(value) else f"{value:.0f}")
    return column.fillna("").astype(str)


def _words(rng: np.random.Generator, name: str, count: int) -> np.ndarray:
    """Return the words written for missing values of one field."""
    third = "unreadable" if name in ON_FILM else "not_recorded"
    return rng.choice(["", "not_recorded", third], size=count, p=[0.7, 0.2, 0.1])


def with_blanks(rng: np.random.Generator, frame: pd.DataFrame) -> pd.DataFrame:
    """Return the frame as text with values missing at random."""
    text = pd.DataFrame({name: as_text(frame[name]) for name in frame.columns})
    for name in text.columns:
        draw = rng.random(len(text))
        words = _words(rng, name, len(text))
        gone = (draw < SHARES.get(name, USUAL_SHARE)) & (text[name] != "")
        if name not in NEVER:
            text[name] = text[name].mask(gone & (text[name] != "not_applicable"), words)
    return text


def poor_films_unreadable(rng: np.random.Generator, fills: pd.DataFrame) -> pd.DataFrame:
    """Return the fills with what a poor film did not show."""
    poor = (fills["film_quality"] == "N") & (rng.random(len(fills)) < UNREADABLE_ON_POOR_FILM)
    shown = ["fill_offset_mm", "core_beyond", "sealer_beyond", "voids", "taper_ok"]
    fills.loc[poor, shown] = "unreadable"
    return fills
