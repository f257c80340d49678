"""The shared folder of the demo: no key or code of any row is in it, in zips neither."""

import csv
import json
import re
import zipfile

import pytest

from lengthwise.cli import main

pytestmark = pytest.mark.xdist_group("demo")
KEYS = ("treatment_id", "patient_id", "clinician_id", "site_id", "observer_id", "reader_id")


@pytest.fixture(scope="module")
def contents(whole_demo):
    """Return every byte of the shared folder by name; zips are opened."""
    found = {}
    for path in sorted((whole_demo.place / "shared").iterdir()):
        found[path.name] = path.read_bytes()
        if zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as archive:
                found |= {
                    f"{path.name}/{name}": archive.read(name) for name in archive.namelist()
                }
    return found


@pytest.fixture(scope="module")
def codes(whole_demo):
    """Return the keys and codes of all rows of the exports, long enough to be told from words."""
    values = set()
    for path in sorted(whole_demo.folder.exports.glob("*.csv")):
        with path.open(encoding="utf-8-sig", newline="") as lines:
            for row in csv.DictReader(lines):
                values |= {row[name] for name in KEYS if row.get(name)}
    return {value for value in values if len(value) >= 2 and not value.isdigit()}


def words_of(name, content):
    """Return the words of a file; pixels and packed bytes hold none."""
    if name.endswith((".png", ".pptx")):
        return set()
    text = re.sub(r"base64,[A-Za-z0-9+/=]+", "", content.decode("utf-8"))
    return set(re.findall(r"[\w-]+", text))


def test_no_key_or_code_of_a_row_is_in_a_shared_file(contents, codes):
    assert len(codes) > 1500
    assert {name.rpartition(".")[2] for name in contents} >= {"pptx", "html", "json", "xml"}
    for name, content in contents.items():
        assert words_of(name, content) & codes == set(), name


def test_the_search_finds_codes_where_they_are(whole_demo, codes):
    internal = next((whole_demo.place / "internal").glob("*.html"))
    assert len(words_of(internal.name, internal.read_bytes()) & codes) > 10


def test_no_hash_of_an_export_and_no_practice_is_in_a_shared_file(whole_demo, contents):
    import hashlib

    told = [
        hashlib.sha256(path.read_bytes()).hexdigest()
        for path in whole_demo.folder.exports.glob("*.csv")
    ]
    assert told
    for name, content in contents.items():
        if not name.endswith((".png", ".pptx")):
            text = content.decode("utf-8")
            assert not [value for value in (*told, "Demo practice") if value in text], name


def test_what_was_shared_is_on_record_with_the_internal_files(whole_demo):
    (record,) = json.loads((whole_demo.place / "internal" / "shared-releases.json").read_text())
    assert record["period"] == "2026-Q2"
    shown = [entry for entry in record["results"] if entry["shown"]]
    assert len(shown) > 200
    counts = [e[n] for e in shown for n in ("numerator", "denominator") if e[n] is not None]
    assert min(counts) >= 10
    assert all(count % 5 == 0 for count in counts)


def test_a_summary_is_shown_first_and_written_only_on_request(whole_demo, tmp_path, capsys):
    command = ["share", "--site", "A1", "--folder", str(whole_demo.folder.root)]
    record = whole_demo.place / "internal" / "shared-summaries.json"
    assert main(command) == 0
    assert "Nothing was written" in capsys.readouterr().out
    assert not record.exists()
    files = []
    for site in ("A1", "B2"):
        target = tmp_path / f"{site}.json"
        assert main(["share", "--site", site, *command[3:], "--out", str(target)]) == 0
        files.append(str(target))
    assert len(json.loads(record.read_text())) == 2
    record.unlink()
    capsys.readouterr()
    assert main(["pool", *files]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Pooled over 2 sites: A1, B2")
    assert "electronic: n " in said


def test_a_practice_name_is_no_site_code(whole_demo, capsys):
    command = ["share", "--site", "Our practice", "--folder", str(whole_demo.folder.root)]
    assert main(command) != 0
    assert "site code" in capsys.readouterr().err
