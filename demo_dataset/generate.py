"""Make the demo dataset.

`python demo_dataset/generate.py` rewrites the committed files; `generate(folder, seed=...,
scale=...)` writes a dataset of any size elsewhere. The same seed gives the same bytes.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent
if str(HERE.parent) not in sys.path:
    sys.path.insert(0, str(HERE.parent))

from demo_dataset import (  # noqa: E402 - the folder above must be importable first
    child_faults,
    events,
    faults,
    fillings,
    lengths,
    missing,
    outcomes,
    people,
    plausibility,
    reviews,
    sheets,
    truth,
)

SEED = 20260630
TREATMENTS = 1800
COLUMNS = {
    "treatments": (
        "treatment_id", "patient_id", "clinician_id", "site_id", "tooth", "period",
        "treatment_type", "pulpal_diagnosis", "apical_diagnosis", "preop_pai",
        "preop_lesion_mm", "metal_restoration", "isolation", "age_band", "difficulty",
        "restoration", "restoration_adequate", "complication",
    ),
    "canals": ("treatment_id", "canal", "root", "reference_point", "patency", "apical_size_iso",
               "taper_pct", "confirmed_length_mm"),
    "readings": ("treatment_id", "canal", "method", "stage", "replicate", "length_mm",
                 "canal_state", "file_size_iso", "metal_contact", "circuit_checked",
                 "electrode", "stable", "observer_id"),
    "fills": ("treatment_id", "canal", "fill_offset_mm", "core_beyond", "sealer_beyond",
              "voids", "taper_ok", "film_quality", "reader_id", "read"),
    "follow_ups": tuple(reviews.COLUMNS),
    "incidents": tuple(events.COLUMNS),
}  # fmt: skip
# What a planted row holds where its fault does not say otherwise.
USUAL = {
    "treatments": ("treatment", {
        "clinician_id": "C02", "site_id": "S1", "period": "2024-03",
        "treatment_type": "primary", "pulpal_diagnosis": "pulp_necrosis",
        "apical_diagnosis": "normal_apical_tissues",
        "preop_pai": "1", "preop_lesion_mm": "0.0", "metal_restoration": "no",
        "isolation": "yes", "age_band": "40-49", "difficulty": "low", "restoration": "direct",
        "restoration_adequate": "yes", "complication": "none"}),
    "canals": ("canal", {
        "reference_point": "cusp_tip", "patency": "yes", "apical_size_iso": "30",
        "taper_pct": "4.0", "confirmed_length_mm": "20.0"}),
    "readings": ("reading", {
        "method": "electronic", "stage": "after_preparation", "replicate": "1",
        "length_mm": "20.0", "canal_state": "dry", "file_size_iso": "30", "metal_contact": "no",
        "circuit_checked": "yes", "electrode": "clip", "stable": "yes", "observer_id": "C02"}),
    "fills": ("fill", {
        "fill_offset_mm": "-1.0", "core_beyond": "no", "sealer_beyond": "no", "voids": "no",
        "taper_ok": "yes", "film_quality": "A", "reader_id": "C02", "read": "1"}),
    "follow_ups": ("follow_up", {
        "days_from_treatment": "400", "imaging": "film", "pai": "1", "pain": "no",
        "swelling": "no", "sinus_tract": "no", "tenderness": "no", "mobility": "0",
        "function": "yes", "tooth_present": "yes", "restoration_status": "intact",
        "reader_id": "C02", "read": "1"}),
    "incidents": ("incident", {"kind": "other", "days_from_treatment": "0"}),
}  # fmt: skip


def _clean_rows(seed: int, scale: float) -> dict[str, pd.DataFrame]:
    """Return the six exports as text without planted faults."""
    streams = [np.random.default_rng([seed, part]) for part in range(9)]
    treated = people.treatments(streams[0], round(TREATMENTS * scale))
    canals = lengths.canals(streams[1], treated)
    readings = lengths.readings(streams[2], canals)
    canals = fillings.offsets(streams[3], canals, readings)
    first = outcomes.first_reviews(streams[4], treated, canals)
    frames = {
        "treatments": treated,
        "canals": canals,
        "readings": readings,
        "fills": fillings.fills(streams[5], canals),
        "follow_ups": reviews.follow_ups(streams[6], first, canals),
        "incidents": events.incidents(streams[7], treated, canals, scale),
    }
    text = {
        name: missing.with_blanks(streams[8], frame[list(COLUMNS[name])])
        for name, frame in frames.items()
    }
    text["fills"] = missing.poor_films_unreadable(streams[8], text["fills"])
    return text


def _planted(treatments: int) -> dict[str, sheets.Sheet]:
    """Return the planted rows of every export."""
    made = {name: sheets.Sheet(*_entity(name)) for name in COLUMNS}
    key = {name: f"T{treatments + 1 + number:05d}" for number, name in enumerate(faults.HOSTS)}
    spare = [f"T{treatments + 21 + number:05d}" for number in range(30)]
    faults.plant_treatments(made["treatments"], key, spare)
    faults.plant_canals(made["canals"], key)
    child_faults.plant_readings(made["readings"], key)
    child_faults.plant_fills(made["fills"], key)
    child_faults.plant_follow_ups(made["follow_ups"], key)
    faults.plant_incidents(made["incidents"], key)
    return made


def _planted_at_the_end(treatments: int) -> dict[str, sheets.Sheet]:
    """Return the planted rows that follow all others, so that no other row moves."""
    made = {name: sheets.Sheet(*_entity(name)) for name in COLUMNS}
    plausibility.plant(
        made, [f"T{treatments + 51 + at:05d}" for at in range(len(plausibility.HOSTS))]
    )
    return made


def _entity(name: str) -> tuple[str, tuple[str, ...], dict[str, str]]:
    entity, usual = USUAL[name]
    return entity, COLUMNS[name], usual


def generate(folder: Path | str, *, seed: int = SEED, scale: float = 1.0) -> None:
    """Write `exports/*.csv`, `truth.toml` and `planted_faults.csv` into `folder`.

    `scale` multiplies the number of treatments; the planted faults stay the same rows.
    """
    folder = Path(folder)
    (folder / "exports").mkdir(parents=True, exist_ok=True)
    clean = _clean_rows(seed, scale)
    rng = np.random.default_rng([seed, 99])
    found: list[dict[str, object]] = []
    counts = {}
    last = _planted_at_the_end(len(clean["treatments"]))
    for name, sheet in _planted(len(clean["treatments"])).items():
        file_name = f"{name}.csv"
        text, listed = sheets.spread(rng, clean[name], sheet, file_name)
        text, listed_last = sheets.append(text, last[name], file_name)
        (folder / "exports" / file_name).write_text(text, encoding="utf-8", newline="\n")
        found += listed + listed_last
        counts[name] = len(clean[name]) + len(sheet.rows) + len(last[name].rows)
    pd.DataFrame(found).to_csv(folder / "planted_faults.csv", index=False, lineterminator="\n")
    (folder / "truth.toml").write_text(
        truth.text(seed, scale, counts), encoding="utf-8", newline="\n"
    )


if __name__ == "__main__":
    generate(HERE)
