"""Programs of this machine that tests may use; where one is missing the test skips and says so."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

PACKAGES = {
    "soffice": "LibreOffice",
    "pdftotext": "poppler",
    "pdffonts": "poppler",
    "pdfinfo": "poppler",
    "pdfimages": "poppler",
}
SECONDS_AT_MOST = 240


def run(name, *arguments):
    """Run a program and return what it printed."""
    program = shutil.which(name)
    if program is None:
        pytest.skip(f"{name} ({PACKAGES[name]}) is not on this machine")
    done = subprocess.run(
        [program, *map(str, arguments)],
        capture_output=True,
        check=True,
        timeout=SECONDS_AT_MOST,
    )
    return done.stdout.decode("utf-8", "replace")


def converted(path, folder):
    """Return the PDF that LibreOffice makes of an office file, with a profile of its own."""
    profile = (Path(folder) / "profile").as_uri()
    run(
        "soffice", f"-env:UserInstallation={profile}", "--headless", "--convert-to", "pdf",
        "--outdir", folder, path,
    )  # fmt: skip
    made = Path(folder) / f"{Path(path).stem}.pdf"
    assert made.is_file()
    return made


def words_of(pdf):
    """Return (page, left, top, right, bottom, word) of every word, in points from the top."""
    box = r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>'
    found = []
    for number, page in enumerate(run("pdftotext", "-bbox", pdf, "-").split("<page ")[1:], 1):
        for *edges, word in re.findall(box, page):
            found.append((number, *map(float, edges), word))
    return found
