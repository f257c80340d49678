"""The data-quality page: its counts, its form, and that nothing of a row stands in it."""

import csv
import re
from html.parser import HTMLParser

import pytest

from folders import DEMO, SMALL, demo_copy, folder_with, small_folder
from lengthwise.cli import main
from lengthwise.intake import check_files, ingest_files
from lengthwise.quality.html import bar, share, table

TREATMENTS = SMALL["treatments"] + "T3,P3,C01,36,2026-05\n"
CANALS = SMALL["canals"] + "T3,D,\nT3,MB,20.0\n"
READINGS = (
    "treatment_id,canal,method,length_mm\n"
    "T1,MB,electronic,20.5\nT1,P,electronic,21.2\nT2,C,electronic,24.0\nT3,D,electronic,20.1\n"
    "T1,MB,film,21.0\nT3,MB,film,20.5\n"
)


class Outline(HTMLParser):
    """Collects tags with their attributes, and the cells of each table by its caption."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.tables, self.text = [], {}, []
        self._rows, self._cell, self._caption = [], None, None
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag == "table":
            self._rows = []
        elif tag == "tr":
            self._rows.append([])
        elif tag in ("td", "th", "caption"):
            self._cell = []

    def handle_data(self, data):
        self.text.append(data)
        if self._cell is not None:
            self._cell.append(data)

    def handle_endtag(self, tag):
        if tag == "caption":
            self._caption = "".join(self._cell)
        elif tag in ("td", "th"):
            self._rows[-1].append("".join(self._cell))
        elif tag == "table":
            self.tables[self._caption] = self._rows
        if tag in ("td", "th", "caption"):
            self._cell = None

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]


def page_of(folder):
    code = main(["--quiet", "check", "--folder", str(folder.root)])
    assert code in (0, 1)
    return Outline((folder.checks / "data-quality.html").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    root = tmp_path_factory.mktemp("quality") / "audit"
    return page_of(small_folder(root, treatments=TREATMENTS, canals=CANALS, readings=READINGS))


def test_completeness_counts_values_of_accepted_rows(small):
    rows = {row[0]: row for row in small.tables["Canals: fields with a value"]}
    assert rows["Confirmed length (confirmed_length_mm)"][2:] == ["4 of 5 (80 in 100)", "1"]
    assert rows["Treatment (treatment_id)"][1:] == ["yes", "5 of 5 (100 in 100)", "0"]
    assert rows["Root (root)"][2] == "0 of 5 (0 in 100)"


def test_methods_are_counted_by_clinician_and_canal(small):
    head, *rows = small.tables["Canals read by each method"]
    assert head == ["Clinician", "Canals", "electronic", "film"]
    assert rows == [
        ["C01", "4", "3 of 4 (75 in 100)", "2 of 4 (50 in 100)"],
        ["C02", "1", "1 of 1 (100 in 100)", "0 of 1 (0 in 100)"],
    ]


def test_too_few_lengths_are_refused_with_their_count(small):
    rows = {row[0]: row for row in small.tables["Lengths on whole and half millimetres"]}
    assert rows["reading: electronic"][1:3] == ["4", "not given: 4 readings, fewer than 10"]


def test_last_digits_of_the_demo_are_those_of_its_file(tmp_path):
    folder = demo_copy(tmp_path / "audit")
    page = page_of(folder)
    rows = {
        row[0]: row
        for row in page.tables["Last digits: lengths by their tenth of a millimetre"]
    }
    with (DEMO / "exports" / "readings.csv").open(encoding="utf-8", newline="") as handle:
        film = [row for row in csv.DictReader(handle) if row["method"] == "film"]
    digits = [row["length_mm"][-1] for row in film]
    assert rows["reading: film"][1:11] == [f"{digits.count(str(at)):,}" for at in range(10)]
    assert rows["reading: film"][11] == "under 0.001"
    found = {row[0]: row[2] for row in page.tables["Findings by code"]}
    assert found["reading.methods_far_apart"] == "2,093"
    outside = {row[0]: row[1:] for row in page.tables["Values outside the usual, by field"]}
    assert outside["Length (readings)"][:3] == ["19,534", "2", "2,094"]


def test_late_rows_are_counted_from_the_second_load_on(tmp_path):
    folder = small_folder(tmp_path / "audit", treatments=TREATMENTS, canals=CANALS)
    first = page_of(folder)
    assert "No earlier load is stored" in " ".join(first.text)
    ingest_files(folder, [], {})
    (folder.exports / "readings.csv").write_text(READINGS, encoding="utf-8")
    late = {row[0]: row[1:] for row in page_of(folder).tables["New rows by how late they come"]}
    # Stored are T1 MB and P and T2 C by one method each; T1 and T2 lie a quarter before T3.
    assert late["readings"] == ["5", "3 of 5 (60 in 100)", "3", "0", "0"]
    assert late.keys() == {"Export", "readings"}


def test_form_of_the_page(small):
    assert small.all("html") == [{"lang": "en-GB"}]
    assert [len(small.all(tag)) for tag in ("title", "h1", "main", "nav", "header")] == [1] * 5
    assert len(small.all("caption")) == len(small.all("table")) >= 7
    assert all(item.get("scope") in ("col", "row") for item in small.all("th"))
    boxes = [item for item in small.all("div") if item.get("class") == "table-scroll"]
    assert len(boxes) == len(small.all("table"))
    names = {item["id"] for _, item in small.tags if "id" in item}
    assert len(names) == sum("id" in item for _, item in small.tags)
    for item in boxes:
        assert (item["role"], item["tabindex"]) == ("region", "0")
        assert item["aria-labelledby"] in names
    for item in small.all("a"):
        assert item["href"].removeprefix("#") in names


def test_page_refers_to_nothing_outside_and_runs_nothing(small):
    assert not {"script", "link", "img", "iframe", "object", "form"} & {
        tag for tag, _ in small.tags
    }
    assert not [item for _, item in small.tags if any(key.startswith("on") for key in item)]
    style = "".join(small.text)
    assert not re.search(r"https?:|@import|url\(", style)


def test_hostile_words_are_shown_as_words(tmp_path):
    folder = small_folder(tmp_path / "audit")
    (folder.root / "settings.toml").write_text(
        "practice_name = '</title><script>alert(1)</script>'\n", encoding="utf-8"
    )
    (folder.exports / "readings.csv").rename(folder.exports / "readings-<b onclick=x>.csv")
    page = page_of(folder)
    assert not page.all("script")
    assert not page.all("b")
    assert "readings-<b onclick=x>.csv" in "".join(page.text)


def test_no_value_of_a_row_stands_in_page_or_findings(tmp_path):
    text = READINGS + "T1,MB,secretmethod,20.5\nT1,MB,film,777\nTX9,MB,film,20.5\n"
    folder = small_folder(
        tmp_path / "audit", treatments=TREATMENTS, canals=CANALS, readings=text
    )
    page = "".join(page_of(folder).text)
    findings = (folder.checks / "findings.csv").read_text(encoding="utf-8")
    assert "reading.method_not_allowed" in page
    assert "reading.method_not_allowed" in findings
    for value in ("secretmethod", "777", "TX9", "T1,", "P1,", "21.2", "20.1"):
        assert value not in page
        assert value not in findings


def test_screen_sums_up_by_code_with_first_rows_and_remedy(tmp_path, capsys):
    wrong = "".join(f"T1,MB,film,{900 + number}\n" for number in range(7))
    folder = small_folder(
        tmp_path / "audit",
        treatments=SMALL["treatments"].replace(",16,", ",36,"),
        readings=SMALL["readings"] + wrong + "T2,C,guess,20\n",
    )
    assert main(["--quiet", "check", "--folder", str(folder.root)]) == 1
    said = capsys.readouterr().out
    assert "Findings: 9 in 9 rows (row 1 is the first row after the header)" in said
    aside, kept = said.split("Set aside until mended:")[1].split("Kept, worth a look:")
    first, remedy, second, *_ = aside.strip().splitlines()
    assert first == "7  reading.length_out_of_range: readings.csv rows 4, 5, 6, 7, 8 and 2 more"
    assert "decimal slip" in remedy
    assert second.strip() == "1  reading.method_not_allowed: readings.csv row 11"
    assert "1  canal.not_usual_for_tooth: canals.csv row 2" in kept


def test_files_go_where_they_are_asked_to(tmp_path, capsys):
    folder = small_folder(tmp_path / "audit", readings=SMALL["readings"] + "T1,P,film,215\n")
    page, findings = tmp_path / "own" / "page.html", tmp_path / "own" / "list.csv"
    command = ["--quiet", "check", "--folder", str(folder.root)]
    assert main([*command, "--page", str(page), "--findings", str(findings)]) == 1
    said = capsys.readouterr().out
    assert f"Findings: {findings}" in said
    assert f"Data-quality page: {page}" in said
    with findings.open(encoding="utf-8", newline="") as handle:
        (row,) = csv.DictReader(handle)
    assert (row["file"], row["row_number"], row["code"]) == (
        "readings.csv", "4", "reading.length_out_of_range",
    )  # fmt: skip
    assert page.stat().st_size > 5_000
    assert not folder.checks.exists()
    assert not folder.database.exists()


def test_a_file_that_cannot_be_written_is_told(tmp_path, capsys):
    folder = small_folder(tmp_path / "audit")
    command = ["--quiet", "check", "--folder", str(folder.root)]
    (folder.root / "reports").write_text("in the way", encoding="utf-8")
    assert main(command) == 0
    assert "Data-quality page not written" in capsys.readouterr().out
    assert main([*command, "--page", str(folder.root / "reports" / "page.html")]) == 5
    assert "the page cannot be written" in capsys.readouterr().err


def test_files_without_lengths_have_a_page_too(tmp_path):
    folder = folder_with(tmp_path / "audit", treatments=SMALL["treatments"])
    page = page_of(folder)
    assert "No canal of a known clinician was read or is stored." in " ".join(page.text)
    assert check_files(folder, [], {}).quality.digits == {}


@pytest.mark.parametrize(
    ("part", "whole", "words"),
    [(0, 0, "0 of 0"), (1, 3, "1 of 3 (33 in 100)"), (1, 1000, "1 of 1,000 (0.1 in 100)"), (999, 1000, "999 of 1,000 (99.9 in 100)"), (5, 5, "5 of 5 (100 in 100)")],
)  # fmt: skip
def test_shares_keep_both_their_numbers(part, whole, words):
    assert share(part, whole) == words


def test_bars_stay_inside_their_box():
    assert 'style="width:100.0%"' in bar(1.7, "x")
    assert "<i>" not in table("a<i>", ["b<i>"], [["c<i>", "d<i>"]])
