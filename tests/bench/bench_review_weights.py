"""How near differences of risk come to the truth with and without weights, in 200 practices.

Run as `python -m tests.bench review_weights`. Teeth, outcome and attendance follow the sizes
planted in the demo; in the second setting a lesion draws patients back far more strongly, and
more fillings end short in teeth with a lesion. `systematic` is the mean over practices of the
difference among the teeth reviewed, worked out from each tooth's own risk, less that of all
teeth due; `spread` is the root mean square of the difference seen less the same truth.
"""

import numpy as np
import pandas as pd
from demo_dataset.planted import OUTCOME, size

from lengthwise.analyse.outcome_followup import weights_for_review
from lengthwise.statistics.outcome.weighted_risks import weighted_risk_difference

PRACTICES, PATIENTS, SEED = 200, 870, 20240601
LEVELS, CONTRASTS = ("within", "short", "beyond"), ["short", "beyond"]
SHARES = {False: (0.62, 0.20, 0.18), True: (0.46, 0.36, 0.18)}
SETTINGS = {"as in the demo": (size("attendance_lesion"), False), "lesions return": (1.6, True)}


def practice(random: np.random.Generator, return_lesion: float, is_level_mixed: bool):
    """Return teeth due in one practice: case-mix, level, risk, outcome, seen or not."""
    patient = np.repeat(np.arange(PATIENTS), 1 + (random.random(PATIENTS) < 0.15))
    n = patient.size
    lesion = random.random(n) < 0.36
    shares = np.where(lesion[:, None], SHARES[is_level_mixed], SHARES[False]).cumsum(axis=1)
    level = np.array(LEVELS)[(random.random(n)[:, None] > shares[:, :2]).sum(axis=1)]
    frame = pd.DataFrame({"patient_id": patient, "has_lesion": lesion, "level": level})
    frame["tooth_type"] = np.where(random.random(n) < 0.48, "molar", "incisor")
    frame["treatment_type"] = np.where(random.random(n) < 0.2, "retreatment", "primary")
    frame["clinician_id"] = random.choice([f"C0{i}" for i in range(1, 8)], n)
    frame["months_from_treatment"], frame["is_restoration_adequate"] = 12.0, True
    frame["risk"] = _chance(_log_odds(random, frame))
    frame["is_not_healed"] = random.random(n) < frame["risk"]
    clinician = {k[-3:]: v.size for k, v in OUTCOME.items() if k.startswith("attendance_C")}
    seen = size("attendance_intercept") + return_lesion * lesion
    seen = seen + frame["clinician_id"].map(clinician).fillna(0.0)
    frame["is_seen"] = random.random(n) < _chance(seen)
    return frame


def _chance(log_odds):
    return 1 / (1 + np.exp(-np.asarray(log_odds, dtype=float)))


def _log_odds(random: np.random.Generator, frame: pd.DataFrame):
    people = random.standard_normal(PATIENTS)[frame["patient_id"]]
    terms = {
        "lesion": frame["has_lesion"], "short": frame["level"] == "short",
        "beyond": frame["level"] == "beyond", "molar": frame["tooth_type"] == "molar",
        "retreatment": frame["treatment_type"] == "retreatment",
    }  # fmt: skip
    odds = sum(np.log(size(f"{name}_odds_ratio")) * hit for name, hit in terms.items())
    return size("intercept_log_odds") + odds + size("patient_log_odds_sd") * people


def differences(frame: pd.DataFrame):
    """Return by level: truth, then seen and risk-based difference without and with weights."""
    seen = frame.copy()
    seen["is_not_healed"] = seen["is_not_healed"].astype("boolean").where(seen["is_seen"])
    found = weights_for_review(seen, CONTRASTS)
    weights = {"without": np.where(seen["is_seen"], 1.0, np.nan), "with": found.weights}
    rows = []
    for level in CONTRASTS:
        names = frame["level"].to_numpy(object)
        exposed = np.select([names == level, names == "within"], [1.0, 0.0], np.nan)
        risk, event = frame["risk"].to_numpy(), frame["is_not_healed"].to_numpy(float)
        row = {"level": level, "truth": risk[exposed == 1].mean() - risk[exposed == 0].mean()}
        for name, weight in weights.items():
            for of, values in (("risk", risk), ("event", event)):
                item = weighted_risk_difference(values, exposed, weight).difference
                row[f"{of}_{name}"] = item.estimate
        rows.append(row)
    return rows


def run():
    """Yield one row a setting and level: error in points of 100, without and with weights."""
    for setting, (return_lesion, is_level_mixed) in SETTINGS.items():
        random = np.random.default_rng(SEED)
        made = [differences(practice(random, return_lesion, is_level_mixed))
                for _ in range(PRACTICES)]  # fmt: skip
        table = pd.DataFrame([row for rows in made for row in rows])
        for level, own in table.groupby("level", sort=False):
            row = {"setting": setting, "level": level, "practices": len(own)}
            for name in ("without", "with"):
                bias = 100 * (own[f"risk_{name}"] - own["truth"])
                error = 100 * (own[f"event_{name}"] - own["truth"])
                row[f"systematic_{name}"] = round(float(bias.mean()), 2)
                row[f"systematic_size_{name}"] = round(float(bias.abs().mean()), 2)
                row[f"spread_{name}"] = round(float(np.sqrt((error**2).mean())), 2)
            row["closer_in_100"] = round(100 * float(
                ((own["risk_with"] - own["truth"]).abs()
                 < (own["risk_without"] - own["truth"]).abs()).mean()
            ))  # fmt: skip
            yield row
