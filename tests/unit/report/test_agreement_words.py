"""Sentences and figures of agreement follow the rows: direction, certainty, people."""

import pandas as pd
import pytest

from lengthwise.report.figures.conditions import condition_rows, conditions
from lengthwise.report.figures.method_matrix import method_matrix
from lengthwise.report.run_data import RunData
from lengthwise.report.sections.agreement_conditions import condition_sentence

SHIFT, RATIO = "bias_shift_adjusted", "sd_ratio_adjusted"


def row(value, lower, upper, **others):
    given = {"estimate": value, "lower": lower, "upper": upper, "valid": True, "reason": ""}
    return pd.Series({**given, "numerator": 412, "denominator": 2130, **others})


def test_a_certain_shift_and_ratio_are_said_with_their_intervals():
    found = {SHIFT: row(-0.15, -0.25, -0.05), RATIO: row(1.6, 1.4, 1.9)}
    assert condition_sentence("canal_state", "wet", found) == (
        "Wet readings were 0.15 mm shorter (0.05 to 0.25) and scattered 1.6 times as much "
        "(1.4 to 1.9), in 412 of 2,130 readings."
    )


def test_the_direction_follows_the_sign():
    found = {SHIFT: row(0.15, 0.05, 0.25), RATIO: row(0.7, 0.6, 0.9)}
    said = condition_sentence("canal_state", "wet", found)
    assert "0.15 mm longer (0.05 to 0.25)" in said
    assert "scattered 0.7 times as much" in said


def test_an_interval_over_nought_is_no_shift():
    found = {SHIFT: row(-0.05, -0.12, 0.02), RATIO: row(1.1, 0.9, 1.3)}
    said = condition_sentence("stability", "unstable", found)
    assert "showed no shift of bias" in said
    assert "showed no other scatter" in said
    assert "shorter" not in said


def test_a_refused_ratio_gives_its_reason():
    refused = row(None, None, None, valid=False, reason="the spread model did not converge")
    said = condition_sentence(
        "canal_state", "wet", {SHIFT: row(-0.15, -0.25, -0.05), RATIO: refused}
    )
    assert "the spread model did not converge" in said


def run_with(estimates):
    empty = pd.DataFrame(columns=["figure", "panel", "list_name", "position"])
    frame = pd.DataFrame(estimates)
    frame["position"] = range(len(frame))
    return RunData({"settings": {}}, frame, empty, empty, empty)


def contrast(kind, level, value, measure):
    return {
        **{"section": "agreement", "analysis": "A7", "subject": "electronic"},
        **{"reference": "confirmed", "stratum_kind": kind, "stratum": level, "scope": "practice"},
        **{"measure": measure, "period": "2026-Q2", "result_id": f"A7.{kind}.{level}.{measure}"},
        **row(value, value - 0.05, value + 0.05, n_used=412).to_dict(),
    }  # fmt: skip


@pytest.mark.parametrize(("people", "shown"), [(4, 0), (5, 5)])
def test_people_are_named_only_where_five_are_compared(people, shown):
    rows = [contrast("canal_state", "wet", -0.15, SHIFT)]
    rows += [contrast("clinician", f"C0{i}", 0.3, SHIFT) for i in range(people)]
    kept = condition_rows(run_with(rows), "electronic")
    assert int((kept["stratum_kind"] == "clinician").sum()) == shown


def test_no_headline_singles_out_a_person():
    rows = [contrast("canal_state", "wet", -0.15, SHIFT)]
    rows += [contrast("clinician", f"C0{i}", 0.3, SHIFT) for i in range(5)]
    rows += [contrast("canal_state", "wet", 1.4, RATIO)]
    drawn = conditions(run_with(rows), "electronic")
    assert "wet" in drawn.headline
    assert "C0" not in drawn.headline


def pair(first, second, bias, low, high):
    common = {
        **{"section": "agreement", "analysis": "A2", "subject": first, "reference": second},
        **{"stratum_kind": "", "stratum": "", "scope": "practice", "period": "2026-Q2"},
        **{"n_used": 120, "valid": True, "reason": ""},
    }
    values = {"bias": bias, "lower_limit": low, "upper_limit": high}
    return [
        {**common, "measure": name, "estimate": value, "result_id": f"{first}.{second}.{name}"}
        for name, value in values.items()
    ]


def test_the_square_reads_row_minus_column_on_both_sides():
    rows = [*pair("film", "electronic", 0.5, -1.0, 2.0), *pair("film", "cbct", 0.2, -0.5, 0.9)]
    drawn = method_matrix(run_with(rows))
    cells = drawn.plot.data.set_index(["row", "column"])["text"]
    assert cells[("film\nestimate", "electronic")] == "\u22121.00 to\n+2.00\nn 120"
    # Electronic minus film is the other way round.
    assert cells[("electronic", "film\nestimate")] == "\u22120.50\nn 120"
    assert "cone-beam" in drawn.headline
