"""The demo exports, opened and saved by a real spreadsheet program, load to the same results."""

import csv
import shutil
import subprocess

import pandas as pd
import pytest

from folders import DEMO, folder_with
from lengthwise.intake import ingest_files
from lengthwise.run import analyse_period
from lengthwise.store.results import read_run

SPREADSHEET = shutil.which("soffice")
pytestmark = [
    pytest.mark.office,
    pytest.mark.skipif(SPREADSHEET is None, reason="no spreadsheet program on this machine"),
    pytest.mark.xdist_group("spreadsheet"),
]
SHAPES = ("too_many_fields", "too_few_fields", "control_character", "field_too_long")
GERMAN = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse">
<value>de-DE</value></prop></item>
</oor:items>"""
# Separator ; quotation mark " character set, first line, formats, language, quote all, as shown.
WINDOWS_1252, UTF_16 = "59,34,1,1,,0,false,true", "59,34,65535,1,,0,false,true"


def exports():
    """Return the demo exports without rows of the wrong shape, which a spreadsheet would mend."""
    with (DEMO / "planted_faults.csv").open(encoding="utf-8", newline="") as handle:
        faults = list(csv.DictReader(handle))
    tables = {}
    for path in sorted((DEMO / "exports").glob("*.csv")):
        bad = {
            int(row["row"]) for row in faults
            if row["file"].endswith(path.name) and row["code"].endswith(SHAPES)
        }  # fmt: skip
        lines = path.read_text(encoding="utf-8").splitlines()
        tables[path.stem] = (
            "\n".join(line for at, line in enumerate(lines) if at not in bad) + "\n"
        )
    return tables


def saved_by_spreadsheet(work, tables, form):
    """Open the tables as comma-separated English text and save them in a German locale."""
    profile = work / "profile"
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(GERMAN, encoding="utf-8")
    for name, text in tables.items():
        (work / f"{name}.csv").write_text(text, encoding="utf-8")
    subprocess.run(
        [SPREADSHEET, "--headless", f"-env:UserInstallation=file://{profile}",
         "--infilter=Text - txt - csv (StarCalc):44,34,76,1,,1033,false,false",
         "--convert-to", f"csv:Text - txt - csv (StarCalc):{form}",
         "--outdir", str(work / "out"), *(str(work / f"{name}.csv") for name in tables)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return {name: (work / "out" / f"{name}.csv").read_bytes() for name in tables}


def results(folder, overrides):
    intake = ingest_files(folder, [], overrides)
    analyse_period(folder, None)
    frames = read_run(folder.database)
    findings = intake.findings[["export", "row_number", "code"]].sort_values(
        ["export", "row_number", "code"]
    )
    return frames, findings.reset_index(drop=True)


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    tables = exports()
    return tables, *results(
        folder_with(tmp_path_factory.mktemp("plain") / "audit", **tables), {}
    )


@pytest.mark.parametrize(
    ("form", "encoding", "line_end"),
    [
        pytest.param(WINDOWS_1252, "windows-1252", b"\n", id="Windows-1252"),
        pytest.param(WINDOWS_1252, "windows-1252", b"\r\n", id="CRLF"),
        pytest.param(UTF_16, "utf-16", b"\n", id="UTF-16"),
    ],
)
def test_saved_exports_load_to_identical_results(tmp_path, plain, form, encoding, line_end):
    tables, wanted, wanted_findings = plain
    saved = saved_by_spreadsheet(tmp_path / "work", tables, form)
    if line_end == b"\r\n":
        saved = {name: data.replace(b"\n", line_end) for name, data in saved.items()}
    assert b"-0,6" in saved["fills"].replace(b"\0", b"")
    folder = folder_with(tmp_path / "audit", **saved)
    overrides = {"separator": ";", "decimal": ",", "encoding": encoding}
    found, findings = results(folder, overrides)
    pd.testing.assert_frame_equal(findings, wanted_findings)
    for name in ("estimates", "points", "lists"):
        drop = ["run_id"]
        pd.testing.assert_frame_equal(
            found[name].drop(columns=drop), wanted[name].drop(columns=drop)
        )
