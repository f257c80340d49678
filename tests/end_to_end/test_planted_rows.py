"""A value planted in the rows of a practice, followed from its exports to what is shared."""

import csv
import io
import json
import re
import zipfile

import pytest

from folders import DEMO, folder_with
from lengthwise.cli import main
from lengthwise.report.disclosure import shared_view
from lengthwise.report.render import render
from lengthwise.report.run_data import load_run
from lengthwise.report.shared_releases import releases_text
from lengthwise.report.snapshot import write_snapshot
from lengthwise.resources import resource

TREATMENT, CLINICIAN, SITE, LENGTH = "TX90QZ77", "CQ91", "SQ7", "23.37"
EVERY = 15  # a fifteenth of the demo's treatments is enough to compare methods
EXPORTS = ("treatments", "canals", "readings", "fills", "follow_ups")


def rows_of(name):
    with (DEMO / "exports" / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        # The demo plants misshapen records; those are not what this is about.
        return [
            row for row in csv.DictReader(lines) if None not in row and None not in row.values()
        ]


def text_of(rows):
    made = io.StringIO()
    writer = csv.DictWriter(made, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return made.getvalue()


def planted_tables():
    """Return a part of the demo's exports in which one treatment carries the planted values."""
    wanted = [row["treatment_id"] for row in rows_of("treatments")][::EVERY]
    tables = {}
    for name in EXPORTS:
        rows = [row for row in rows_of(name) if row["treatment_id"] in set(wanted)]
        for row in rows:
            if row["treatment_id"] != wanted[0]:
                continue
            row["treatment_id"] = TREATMENT
            if name == "treatments":
                row |= {"clinician_id": CLINICIAN, "site_id": SITE, "period": "2026-05"}
            if name == "canals":
                row["confirmed_length_mm"] = LENGTH
            if name == "readings":
                row["length_mm"] = LENGTH
        tables[name] = text_of(rows)
    return tables


@pytest.fixture(scope="module")
def practice(tmp_path_factory):
    folder = folder_with(tmp_path_factory.mktemp("planted") / "audit", **planted_tables())
    main(["--quiet", "ingest", "--folder", str(folder.root)])
    assert main(["--quiet", "analyse", "--folder", str(folder.root)]) == 0
    return folder


@pytest.fixture(scope="module")
def run(practice):
    return load_run(practice.database)


@pytest.fixture(scope="module")
def shared(run, practice, tmp_path_factory):
    """Return every text and picture that leaves, by name; zips are opened."""
    folder = tmp_path_factory.mktemp("shared")
    view = shared_view(run)
    stored = write_snapshot(view, folder / "run.json")
    made = render(
        resource("reports", "study_club.qmd"), ("pptx", "html"), {"database": stored},
        folder / "out", "deck", engine="embedded", is_alone=True,
    )  # fmt: skip
    summary = folder / "summary.json"
    parts = "agreement,fill,outcome,model"
    command = ["share", "--site", "A1", "--leave-out", parts, "--folder", str(practice.root)]
    assert main([*command, "--out", str(summary)]) == 0
    found = {path.name: path.read_bytes() for path in (*made, stored, summary)}
    found["record"] = releases_text(practice, [view]).encode()
    with zipfile.ZipFile(made[0]) as archive:
        found |= {name: archive.read(name) for name in archive.namelist()}
    del found[made[0].name]
    return found


def test_the_planted_rows_reached_the_results_of_the_practice(run):
    assert "CQ91" in set(run.estimates["stratum"])
    assert "SQ7" in set(run.estimates["stratum"])
    electronic = run.plotted("bland_altman", "electronic")
    assert (electronic["x"] - float(LENGTH)).abs().min() < 1e-9


@pytest.mark.parametrize("value", [TREATMENT, CLINICIAN, SITE, LENGTH, "23,37"])
def test_no_planted_value_is_in_anything_that_leaves(value, shared):
    assert len(shared) > 60
    for name, content in shared.items():
        if name.endswith(".png"):
            # Pixels only: no chunk of text is in a picture.
            assert not re.search(rb"tEXt|zTXt|iTXt|eXIf|tIME", content)
        else:
            text = re.sub(r"base64,[A-Za-z0-9+/=]+", "", content.decode("utf-8"))
            assert value not in text, name


def test_what_leaves_says_that_it_masked_something(shared):
    told = json.loads(shared["run.json"])["run"]["settings"]["disclosure"]
    assert told["masked_small"] > 20
    assert b"are masked for a count under 10" in shared["deck.html"]
