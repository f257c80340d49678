"""A file with direct identifiers is refused whole; the message says where and never what."""

import pytest

from folders import SMALL, folder_with, small_folder
from lengthwise.errors import IdentifierError, SettingsError
from lengthwise.intake import check_files, ingest_files
from lengthwise.store.database import connect


def stored_rows(folder):
    connection = connect(folder.database, read_only=True)
    try:
        return [
            connection.execute(f"select count(*) from record.{name}").fetchall()[0][0]
            for name in ("treatments", "canals", "readings", "quarantine", "loads")
        ]
    finally:
        connection.close()


def with_column(text, header, *values):
    first, *rest = text.splitlines()
    lines = [f"{first},{header}"] + [
        f"{line},{values[at % len(values)]}" for at, line in enumerate(rest)
    ]
    return "\n".join(lines) + "\n"


def ignoring(folder, entry):
    (folder.root / "mapping.toml").write_text(
        f'[[file]]\nname = "treatments.csv"\nexport = "treatments"\nignore = {entry}\n',
        encoding="utf-8",
    )
    return folder


def many(header, value):
    """Return twelve treatments whose column of that header holds what `value` gives."""
    names = ["treatment_id", "patient_id", "clinician_id", "site_id", "tooth"]
    names.append("treatment_date" if header == "treatment_date" else "period")
    lines = [",".join(names)]
    for at in range(12):
        own = {"treatment_id": f"T{at}", "patient_id": f"P{at:03d}", "clinician_id": f"C0{at % 3}",
               "site_id": "S1", "tooth": "16", "period": "2026-01"}  # fmt: skip
        own[header] = value(at)
        lines.append(",".join(own[name] for name in names))
    return "\n".join(lines) + "\n"


CASES = {
    "one name among codes": (many("patient_id", lambda at: "Qx.Miller" if at == 5 else f"P{at:03d}"), None, "column 2", "name"),
    "one word among codes": (many("clinician_id", lambda at: "QXYZW" if at == 5 else f"C0{at % 3}"), None, "column 3", "name"),
    "initials among codes": (many("clinician_id", lambda at: "QX" if at == 5 else f"C0{at % 3}"), None, "column 3", "initials"),
    "place as site": (many("site_id", lambda at: "Qxford"), None, "column 4", "address or place"),
    "bare record numbers": (many("patient_id", lambda at: str(61_930 + 997 * at)), None, "column 2", "record number"),
    "births as treatments": (many("treatment_date", lambda at: f"{1930 + 5 * at}-01-09"), None, "column 6", "date of birth"),
    "births as periods": (many("period", lambda at: f"{1930 + 5 * at}-01"), None, "column 6", "date of birth"),
    "key column": (SMALL["treatments"].replace("P1", "p1@example.org"), None, "column 2", "e-mail"),
    "initials": (SMALL["treatments"].replace("C01", "QX").replace("C02", "QY"), None, "column 3", "initials"),
    "ignored column": (with_column(SMALL["treatments"], "extra", "192.0.2.7"), '["extra"]', "column 6", "IP address"),
    "header": (with_column(SMALL["treatments"], "Patient name", "qx"), '["Patient name"]', "column 6", "name"),
    "unmapped header": (with_column(SMALL["treatments"], "DOB", "1960"), None, "column 6", "date of birth"),
    "row set aside": (SMALL["treatments"].replace(",16,", ",qx@example.org,"), None, "set aside", "e-mail"),
    "sentence in a row set aside": (SMALL["treatments"].replace(",16,", ",she said it hurt,"), None, "set aside", "free text"),
    "free text without a reason": (with_column(SMALL["treatments"], "extra", "it was quite sore"), '["extra"]', "column 6", "free text"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_load_stops_and_nothing_is_stored(tmp_path, case):
    text, ignore, place, kind = CASES[case]
    folder = small_folder(tmp_path / "audit", treatments=text)
    if ignore:
        ignoring(folder, ignore)
    with pytest.raises(IdentifierError) as caught:
        ingest_files(folder, [], {})
    message = str(caught.value)
    assert place in message
    assert kind in message
    assert "row " in message
    for value in (
        "example.org",
        "QX",
        "192.0.2.7",
        "qx",
        "Qx",
        "1960",
        "61930",
        "hurt",
        "sore",
    ):
        assert value not in message
    assert sum(stored_rows(folder)) == 0
    with pytest.raises(IdentifierError):
        check_files(folder, [], {})


def test_free_text_with_a_reason_is_left_out_everywhere(tmp_path):
    text = with_column(SMALL["treatments"], "Remarks", "it was quite sore").replace(
        ",16,", ",99,"
    )
    folder = small_folder(tmp_path / "audit", treatments=text)
    ignoring(folder, '{ "Remarks" = "free text, not used" }')
    result = ingest_files(folder, [], {})
    assert stored_rows(folder)[0] == 1
    written = "".join(path.read_text(encoding="utf-8") for path in result.quarantine_files)
    assert ",99," in written
    assert "sore" not in written
    assert b"quite sore" not in folder.database.read_bytes()


def test_dates_in_declared_date_fields_pass(tmp_path):
    text = SMALL["treatments"].replace("period", "treatment_date")
    folder = small_folder(
        tmp_path / "audit",
        treatments=text.replace("2026-01", "2026-01-09").replace("2026-02", "2026-02-10"),
    )
    assert ingest_files(folder, [], {}).findings.empty


def test_bare_numbers_pass_when_they_are_declared(tmp_path):
    text = many("patient_id", lambda at: str(61_930 + 997 * at))
    folder = folder_with(tmp_path / "audit", treatments=text)
    folder.mapping.write_text(
        'random_numbers = { patient_id = "drawn by the register" }\n', encoding="utf-8"
    )
    assert ingest_files(folder, [], {}).findings.empty
    folder.mapping.write_text("random_numbers = { patient_id = 1 }\n", encoding="utf-8")
    with pytest.raises(SettingsError, match="random_numbers"):
        check_files(folder, [], {})


def test_a_practice_of_many_years_is_no_list_of_births(tmp_path):
    text = many("period", lambda at: f"{2015 + at}-01")
    folder = folder_with(tmp_path / "audit", treatments=text)
    assert ingest_files(folder, [], {}).findings.empty
