"""Rows that do not fit the other rows of their canal are accepted with a warning and its cause."""

import pytest

from folders import small_folder
from lengthwise.intake import check_files, ingest_files, known_codes

TREATMENTS = "treatment_id,patient_id,clinician_id,tooth,period\nT1,P1,C01,16,2026-01\n"
CANALS = "treatment_id,canal,confirmed_length_mm\nT1,MB,19.0\nT1,P,22.0\n"
READINGS = (
    "treatment_id,canal,method,replicate,length_mm\n"
    "T1,MB,electronic,1,19.0\nT1,MB,film_file,1,19.5\nT1,MB,paper_point,1,19.0\n"
    "T1,P,electronic,1,22.0\nT1,P,film_file,1,22.5\nT1,P,paper_point,1,22.0\n"
)


def folder(path, readings="", fills="", settings=""):
    tables = {"treatments": TREATMENTS, "canals": CANALS, "readings": READINGS + readings}
    if fills:
        tables["fills"] = f"treatment_id,canal,fill_offset_mm\n{fills}"
    made = small_folder(path / "audit", **tables)
    with (made.root / "settings.toml").open("a", encoding="utf-8") as handle:
        handle.write(settings)
    return made


def found(path, **tables):
    result = check_files(folder(path, **tables), [], {})
    assert result.rows_quarantined == 0
    assert set(result.findings["severity"]) <= {"warning"}
    return [(row.code, row.row_number) for row in result.findings.itertuples()]


def test_readings_that_agree_are_left_alone(tmp_path):
    assert found(tmp_path) == []


@pytest.mark.parametrize(
    ("readings", "rows"),
    [
        pytest.param("T1,MB,tactile,1,20.1\n", [], id="0.9 mm from the mean of the others"),
        pytest.param("T1,MB,tactile,1,20.2\n", [7], id="beyond 1.0 mm"),
        pytest.param("T1,MB,tactile,1,17.5\nT1,MB,trial_cone,1,25.0\n", [8], id="furthest only"),
        pytest.param("T1,MB,electronic,2,22.0\n", [7], id="a repeat"),
        pytest.param("T1,MB,electronic,2,19.2\nT1,MB,electronic,3,18.8\n", [], id="repeats that agree"),
    ],
)  # fmt: skip
def test_the_reading_furthest_from_the_other_methods_is_named(tmp_path, readings, rows):
    assert found(tmp_path, readings=readings) == [
        ("reading.methods_far_apart", row) for row in rows
    ]


def test_of_two_methods_alone_both_are_named(tmp_path):
    made = folder(tmp_path)
    (made.exports / "readings.csv").write_text(
        "treatment_id,canal,method,length_mm\nT1,MB,electronic,19.0\nT1,MB,film_file,20.5\n",
        encoding="utf-8",
    )
    findings = check_files(made, [], {}).findings
    assert findings["row_number"].tolist() == [1, 2]


def test_repeats_of_one_method_alone_are_held_against_each_other(tmp_path):
    made = folder(tmp_path)
    (made.exports / "readings.csv").write_text(
        "treatment_id,canal,method,replicate,length_mm\n"
        "T1,MB,electronic,1,19.0\nT1,MB,electronic,2,19.2\nT1,MB,electronic,3,22.5\n"
        "T1,P,electronic,1,20.0\nT1,P,electronic,2,21.5\n",
        encoding="utf-8",
    )
    findings = check_files(made, [], {}).findings
    assert findings["row_number"].tolist() == [3, 4, 5]


def test_the_practice_sets_the_threshold(tmp_path):
    settings = "[thresholds]\nreview_mm = 2.0\n"
    assert found(tmp_path, readings="T1,MB,tactile,1,20.5\n", settings=settings) == []


def test_later_readings_are_held_against_stored_ones(tmp_path):
    made = folder(tmp_path)
    ingest_files(made, [], {})
    late = made.exports / "readings-late.csv"
    late.write_text(
        "treatment_id,canal,method,length_mm\nT1,MB,trial_cone,25.0\n", encoding="utf-8"
    )
    findings = ingest_files(made, [late], {}).findings
    assert findings["code"].tolist() == ["reading.methods_far_apart"]


def test_a_corrected_reading_is_not_held_against_the_one_it_replaces(tmp_path):
    made = folder(tmp_path, readings="T1,MB,tactile,1,25.0\n")
    ingest_files(made, [], {})
    path = made.exports / "readings.csv"
    path.write_text(READINGS + "T1,MB,tactile,1,19.0\n", encoding="utf-8")
    assert ingest_files(made, [], {}).findings.empty


def test_canals_that_one_method_has_the_wrong_way_round_are_told_apart(tmp_path):
    swapped = "T1,MB,trial_cone,1,22.0\nT1,P,trial_cone,1,19.0\n"
    assert found(tmp_path, readings=swapped) == [
        ("reading.canals_swapped", 7), ("reading.canals_swapped", 8),
    ]  # fmt: skip


def test_canals_of_like_length_are_not_called_swapped(tmp_path):
    made = folder(tmp_path)
    text = READINGS.replace("22.0", "20.5").replace("22.5", "20.5")
    (made.exports / "readings.csv").write_text(
        text + "T1,MB,tactile,1,20.5\nT1,P,tactile,1,19.0\n", encoding="utf-8"
    )
    codes = set(check_files(made, [], {}).findings["code"])
    assert codes == {"reading.methods_far_apart"}


@pytest.mark.parametrize(
    ("offset", "codes"),
    [
        pytest.param("-0.7", [], id="usual"),
        pytest.param("-7.0", ["fill.level_does_not_fit_lengths"], id="decimal slip"),
        pytest.param("7.0", ["fill.level_does_not_fit_lengths"], id="beyond"),
        pytest.param("-5.5", [], id="5.0 mm from where the lengths put it"),
        pytest.param("-5.6", ["fill.level_does_not_fit_lengths"], id="5.1 mm"),
    ],
)  # fmt: skip
def test_a_level_that_the_lengths_contradict_is_named(tmp_path, offset, codes):
    assert [code for code, _ in found(tmp_path, fills=f"T1,MB,{offset}\n")] == codes


def test_a_short_filling_in_a_canal_that_was_confirmed_short_is_left_alone(tmp_path):
    made = folder(tmp_path, fills="T1,MB,-7.0\n")
    (made.exports / "canals.csv").write_text(CANALS.replace("19.0", "14.0"), encoding="utf-8")
    assert "fill.level_does_not_fit_lengths" not in set(
        check_files(made, [], {}).findings["code"]
    )


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("reading.length_out_of_range", "decimal slip (215 or 2.15 for 21.5)"),
        ("canal.confirmed_length_out_of_range", "decimal slip"),
        ("reading.canals_swapped", "wrong way round"),
        ("reading.methods_far_apart", "slip of the pen, another canal"),
        ("fill.level_does_not_fit_lengths", "decimal mark (-7 for -0.7), sign and canal"),
    ],
)
def test_the_remedy_names_the_likely_cause(code, words):
    assert words in known_codes()[code].remedy


def test_the_remedy_of_a_percentage_says_nothing_of_lengths():
    assert "21.5" not in known_codes()["canal.taper_out_of_range"].remedy
