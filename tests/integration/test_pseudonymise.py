"""Codes replace identifying columns; the way back lies apart, and codes stay the same."""

import csv
import stat

import pytest

from folders import small_folder
from lengthwise.cli import main
from lengthwise.errors import IdentifierError, SettingsError, UnreadableError
from lengthwise.ingest.pseudonyms import keyed_digest, normalised
from lengthwise.intake import ingest_files

NAMED = (
    "treatment_id,patient_id,clinician_id,tooth,period,Patient name\n"
    "T1,qx@example.org,C01,16,2026-01,Qx Zy\nT2,QX@example.org ,C02,11,2026-02,Qx Zy\n"
    "T3,zz@example.org,C02,12,2026-02,Zz Zy\n"
)


def rows(path):
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


@pytest.fixture
def named(tmp_path):
    path = tmp_path / "from-practice" / "list.csv"
    path.parent.mkdir()
    path.write_text(NAMED, encoding="utf-8")
    return path


def coded(named, target, *more):
    options = ["--column", "patient_id=patient", "--drop", "Patient name", *more]
    return main(["pseudonymise", str(named), "--out", str(target), *options])


def test_random_codes_pass_the_gate_and_stay_the_same(tmp_path, named, capsys):
    folder = small_folder(tmp_path / "audit")
    look_up = tmp_path / "apart" / "codes.csv"
    target = folder.exports / "treatments.csv"
    target.write_text(NAMED, encoding="utf-8")
    with pytest.raises(IdentifierError):
        ingest_files(folder, [], {})
    target.unlink()
    assert coded(named, target, "--look-up", str(look_up)) == 0
    assert "not anonymous" in capsys.readouterr().out
    assert ingest_files(folder, [], {}).findings.empty
    patients = [row["patient_id"] for row in rows(target)]
    assert patients[0] == patients[1] != patients[2]
    assert "Patient name" not in rows(target)[0]
    assert "qx" not in target.read_text(encoding="utf-8").lower()
    second = folder.exports / "treatments-2.csv"
    assert coded(named, second, "--look-up", str(look_up)) == 0
    assert [row["patient_id"] for row in rows(second)] == patients
    back = {row["code"]: row["value"] for row in rows(look_up)}
    assert back[patients[2]] == "zz@example.org"
    assert stat.S_IMODE(look_up.stat().st_mode) == 0o600


def test_other_look_ups_give_other_codes(tmp_path, named):
    for name in ("one", "two"):
        coded(named, tmp_path / f"{name}.csv", "--look-up", str(tmp_path / name / "codes.csv"))
    first, second = (rows(tmp_path / f"{name}.csv") for name in ("one", "two"))
    assert not {row["patient_id"] for row in first} & {row["patient_id"] for row in second}


def test_keyed_codes_depend_on_the_key_and_need_no_look_up(tmp_path, named):
    out = {}
    for name, key in (("a", "one"), ("b", "one"), ("c", "two")):
        target = tmp_path / f"{name}.csv"
        assert coded(named, target, "--key-file", str(tmp_path / key / "key")) == 0
        out[name] = [row["patient_id"] for row in rows(target)]
    assert out["a"] == out["b"]
    assert not set(out["a"]) & set(out["c"])
    assert stat.S_IMODE((tmp_path / "one" / "key").stat().st_mode) == 0o600
    assert len((tmp_path / "one" / "key").read_bytes()) == 32


def test_keyed_digest_matches_the_published_vector():
    # RFC 4231, test case 2.
    assert keyed_digest(b"Jefe", b"what do ya want for nothing?") == (
        "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    )


@pytest.mark.parametrize(
    ("one", "other"), [("0123", "123 "), ("ABC", "abc"), ("é", "e\u0301"), ("000", "0")]
)
def test_spellings_of_one_value_are_one(one, other):
    assert normalised(one) == normalised(other)


def test_the_way_back_must_lie_apart(tmp_path, named, capsys):
    folder = small_folder(tmp_path / "audit")
    beside = tmp_path / "out" / "codes.csv"
    beside.parent.mkdir()
    assert (
        coded(named, tmp_path / "out" / "a.csv", "--look-up", str(beside))
        == SettingsError.exit_code
    )
    inside = folder.root / "codes.csv"
    assert (
        coded(named, folder.exports / "a.csv", "--look-up", str(inside))
        == SettingsError.exit_code
    )
    assert (
        coded(named, folder.exports / "a.csv", "--key-file", str(inside))
        == SettingsError.exit_code
    )
    assert not inside.exists()
    assert "outside the audit folder" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (NAMED + "T4,zz@example.org\n", "row 4"),
        (NAMED.replace("patient_id", "patient"), "not there exactly once"),
        ("", "not there exactly once"),
    ],
)
def test_what_cannot_be_coded_leaves_no_file(tmp_path, named, capsys, text, message):
    named.write_text(text, encoding="utf-8")
    target = tmp_path / "out" / "list.csv"
    target.parent.mkdir()
    look_up = tmp_path / "apart" / "codes.csv"
    assert coded(named, target, "--look-up", str(look_up)) == UnreadableError.exit_code
    error = capsys.readouterr().err
    assert message in error
    assert "example.org" not in error
    assert list(target.parent.iterdir()) == []
    assert not look_up.exists()


def test_a_folder_that_is_not_there_is_told_plainly(tmp_path, named, capsys):
    target = tmp_path / "nowhere" / "list.csv"
    look_up = str(tmp_path / "apart" / "codes.csv")
    assert coded(named, target, "--look-up", look_up) == SettingsError.exit_code
    assert "cannot be written" in capsys.readouterr().err
