"""How often charts and clinician comparisons signal in 1,000 practices where nothing changes.

Run as `python -m tests.bench false_signals`. Fillings of one patient are alike (intraclass
correlation 0.15), as in the demo; the nominal rates hold for independent cases.
"""

import numpy as np

from lengthwise.analyse.charts import CHANGE_P
from lengthwise.analyse.clinicians import SIGNAL_Z
from lengthwise.analyse.funnels import effective_counts
from lengthwise.analyse.measures import design_effect
from lengthwise.statistics.process.change_point import change_point
from lengthwise.statistics.process.funnel import funnel
from lengthwise.statistics.process.observed_expected import observed_expected
from lengthwise.statistics.process.proportion_charts import laney_p_chart
from lengthwise.statistics.process.run_chart import run_chart

PRACTICES, MONTHS, PATIENTS_A_MONTH, FILLS_A_PATIENT = 1000, 30, 40, 3
SHARE, LIKENESS, CLINICIANS, RECENT = 0.10, 0.15, 7, 12


def practice(random, likeness=LIKENESS):
    """Return a frame with one row per filling: month, patient, clinician, event."""
    import pandas as pd

    patients = MONTHS * PATIENTS_A_MONTH
    total = 1 / likeness - 1
    risk = random.beta(SHARE * total, (1 - SHARE) * total, patients)
    clinician = random.integers(CLINICIANS, size=patients)
    index = np.repeat(np.arange(patients), FILLS_A_PATIENT)
    return pd.DataFrame(
        {
            "patient_id": index,
            "month": index // PATIENTS_A_MONTH,
            "clinician_id": clinician[index],
            "is_met": random.random(index.size) < risk[index],
        }
    )


def signals(cases, seed):
    """Return what signals in one practice."""
    months = cases.groupby("month")["is_met"].agg(["sum", "size"])
    met, size = months["sum"].to_numpy(), months["size"].to_numpy()
    recent = cases[cases["month"] >= MONTHS - RECENT]
    units = recent.groupby("clinician_id")["is_met"].agg(["sum", "size"])
    effect = design_effect(recent)
    judged = funnel(
        *effective_counts(units["sum"], units["size"], effect), target=SHARE,
        minimum_cases=1, minimum_units=1,
    )  # fmt: skip
    whole = np.full(len(recent), recent["is_met"].mean())
    compared = observed_expected(
        recent["is_met"].to_numpy(float), whole, recent["clinician_id"].to_numpy()
    )
    whole_effect = design_effect(cases)
    change = change_point(met / whole_effect, size, draws=999, seed=seed)
    return {
        "run chart, either rule": run_chart(met / size).signal,
        "p' chart, any month": bool(laney_p_chart(met, size).outside),
        "likely change, p <= 0.01": change.p_value <= CHANGE_P,
        "funnel 99.8 %, any clinician": any("99.8" in point.flag for point in judged.points),
        "observed / expected, any clinician": any(
            unit.z / effect**0.5 >= SIGNAL_Z for unit in compared.units
        ),
    }


# Of independent cases: 30 months outside 3 SDs, 7 clinicians with two tails or one of 0.001.
NOMINAL = {
    "run chart, either rule": "",
    "p' chart, any month": f"{1 - 0.9973**MONTHS:.3f}",
    "likely change, p <= 0.01": "0.010",
    "funnel 99.8 %, any clinician": f"{1 - 0.998**CLINICIANS:.3f}",
    "observed / expected, any clinician": f"{1 - 0.999**CLINICIANS:.3f}",
}


def run():
    random = np.random.default_rng(20260630)
    found = [signals(practice(random), seed) for seed in range(PRACTICES)]
    plain = [run_chart(random.normal(size=MONTHS)).signal for _ in range(PRACTICES)]
    # The rules' own rate, by independent continuous values without ties.
    nominals = NOMINAL | {"run chart, either rule": f"{np.mean(plain):.3f}"}
    rows = []
    for name, nominal in nominals.items():
        rate = np.mean([one[name] for one in found])
        error = (rate * (1 - rate) / PRACTICES) ** 0.5
        rows.append(
            {
                "signal": name, "practices": PRACTICES, "rate": f"{rate:.3f}",
                "standard_error": f"{error:.3f}", "nominal": nominal,
            }
        )  # fmt: skip
    return rows
