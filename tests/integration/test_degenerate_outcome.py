"""Awkward practices from their exports to the printed sections: reasons where numbers would be."""

import re

import numpy as np
import pandas as pd
import pytest

from folders import folder_with
from lengthwise.intake import ingest_files
from lengthwise.report import sections
from lengthwise.report.run_data import load_run
from lengthwise.report.wording import banned_words
from lengthwise.run import analyse_period

SHOWN = (
    "outcome_crude", "outcome_split", "outcome_risks", "outcome_dose", "outcome_follow_up",
    "outcome_time", "outcome_chain", "outcome_adjusted", "outcome_calibration",
)  # fmt: skip
OFFSET_MM = {"within": -1.0, "short": -2.6, "beyond": 0.6}
N = 60


def practice() -> pd.DataFrame:
    """Return teeth with case-mix, level and outcome, all reviewed at 13 months."""
    number = np.arange(N)
    frame = pd.DataFrame({"treatment_id": [f"T{i:03d}" for i in number]})
    frame["patient_id"] = [f"P{i // 2:03d}" for i in number]
    frame["clinician_id"] = np.where(number % 3 == 0, "C01", "C02")
    frame["tooth"] = np.where(number % 4 < 2, "16", "11")
    frame["treatment_type"] = np.where(number % 5 == 0, "retreatment", "primary")
    frame["preop_pai"] = np.where(number % 7 < 3, 4, 1)
    frame["level"] = np.select(
        [number % 6 == 1, number % 6 == 4], ["short", "beyond"], "within"
    )
    frame["is_event"] = (number * 7) % 11 < 3
    frame["is_reviewed"], frame["loss"] = True, ""
    return frame


def _with(**changed) -> pd.DataFrame:
    return practice().assign(**changed)


def _separated() -> pd.DataFrame:
    frame = practice()
    return frame.assign(is_event=frame["level"] == "beyond")


CASES = {
    "one level empty": lambda: practice().replace({"level": {"beyond": "within"}}),
    "all healed": lambda: _with(is_event=False),
    "one clinician": lambda: _with(clinician_id="C01"),
    "complete separation": _separated,
    "one patient with all teeth": lambda: _with(patient_id="P001"),
    "all lost to follow-up": lambda: _with(is_reviewed=False),
    "all taken out for other reasons": lambda: _with(loss="other"),
    "covariate constant": lambda: _with(preop_pai=4, tooth="16", treatment_type="primary"),
}
# section: words that must stand in it
WORDS = {
    "one level empty": {
        "outcome_adjusted": "no tooth filled beyond was reviewed",
        "outcome_crude": "no tooth filled beyond has a countable review",
        "outcome_risks": "no tooth filled beyond was reviewed",
    },
    "all healed": {
        "outcome_adjusted": "0 events, fewer than 5: crude table only",
        "outcome_risks": "0 events, fewer than 5: crude table only",
        "outcome_dose": "0 events, fewer than 5",
        "outcome_crude": "no unit has the event, so there is nothing to test",
    },
    "one clinician": {"outcome_adjusted": "Terms that went in"},
    "complete separation": {"outcome_adjusted": "separation by"},
    "one patient with all teeth": {
        "outcome_adjusted": "the penalised fit takes teeth of one patient as independent",
        "outcome_time": "1 patient is too few for 3 coefficients",
    },
    "all lost to follow-up": {
        "outcome_adjusted": "no tooth with a known level has a countable review",
        "outcome_follow_up": "no tooth was reviewed",
        "outcome_time": "no tooth has a review",
    },
    "all taken out for other reasons": {
        "outcome_adjusted": "no tooth with a known level has a countable review",
    },
    "covariate constant": {"outcome_adjusted": "it does not vary here, or was not recorded"},
}


def _exports(frame: pd.DataFrame) -> dict[str, str]:
    """Return the exports that would hold these teeth."""
    treated = [
        "treatment_id",
        "patient_id",
        "clinician_id",
        "tooth",
        "treatment_type",
        "preop_pai",
    ]
    treatments = frame[treated].assign(period="2024-01")
    # A last treatment opens the quarter in which the earlier ones are looked back on.
    treatments.loc[N] = treatments.iloc[0]
    treatments.loc[N, ["treatment_id", "patient_id", "period"]] = "T999", "P999", "2026-01"
    canals = frame[["treatment_id"]].assign(canal="C", confirmed_length_mm=21.0)
    readings = canals[["treatment_id", "canal"]].assign(method="electronic", length_mm=21.0)
    fills = canals[["treatment_id", "canal"]].assign(
        fill_offset_mm=frame["level"].map(OFFSET_MM), reader_id="C01", read=1
    )
    reviews = frame[frame["is_reviewed"]]
    is_lost = reviews["loss"] != ""
    follow_ups = pd.DataFrame(
        {
            "treatment_id": reviews["treatment_id"],
            "days_from_treatment": 400,
            "imaging": np.where(is_lost, "none", "film"),
            "pai": np.where(is_lost, "", np.where(reviews["is_event"], "5", "1")),
            "tooth_present": np.where(is_lost, "no", "yes"),
            "loss_reason": reviews["loss"],
        }
    )
    tables = {
        "treatments": treatments, "canals": canals, "readings": readings, "fills": fills,
        "follow_ups": follow_ups,
    }  # fmt: skip
    return {name: table.to_csv(index=False) for name, table in tables.items() if len(table)}


@pytest.mark.parametrize("name", CASES)
def test_sections_print_reasons_and_no_bare_number(name, tmp_path, monkeypatch):
    folder = folder_with(tmp_path / "audit", **_exports(CASES[name]()))
    ingest_files(folder, [], {})
    run_data = load_run(folder.database, analyse_period(folder, "2026-Q1"))
    monkeypatch.chdir(tmp_path)
    shown = {
        section: re.sub(r"\\(.)", r"\1", getattr(sections, section)(run_data))
        for section in SHOWN
    }
    for section, text in shown.items():
        assert text.strip(), section
        assert not re.search(r"\bnan\b|\binf\b|None", text), section
        assert banned_words(text) == []
    for section, words in WORDS[name].items():
        assert words in shown[section], (section, shown[section])
    found = run_data.estimates
    refused = found[~found["valid"]]
    assert (refused["reason"] != "").all()
    assert refused["estimate"].isna().all()
