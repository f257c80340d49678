"""The data-quality page in a headless browser, offline: WCAG 2.2 A and AA, 320 and 1280 px."""

import pytest

from folders import SMALL, small_folder
from headless import browser, opened
from lengthwise.cli import main

pytestmark = pytest.mark.browser
SCROLLS = "() => document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    readings = "".join(
        f"T1,MB,electronic,{number},{20 + number / 10:.1f}\n" for number in range(1, 13)
    )
    head = "treatment_id,canal,method,replicate,length_mm\n"
    folder = small_folder(
        tmp_path_factory.mktemp("quality") / "audit",
        readings=head + readings + "T1,P,film,1,215\n",
    )
    assert main(["--quiet", "ingest", "--folder", str(folder.root)]) == 0
    late = SMALL["treatments"] + "T3,P3,C01,36,2025-05\n"
    (folder.exports / "treatments.csv").write_text(late, encoding="utf-8")
    assert main(["--quiet", "check", "--folder", str(folder.root)]) == 1
    return folder.checks / "data-quality.html"


@pytest.fixture(scope="module")
def started():
    with browser() as running:
        yield running


@pytest.mark.parametrize("width", [320, 1280])
def test_page_is_accessible_quiet_and_fits(started, page, width):
    with opened(started, page, width) as shown:
        assert shown.complaints == []
        assert shown.requests == [page.as_uri()]
        assert shown.run(SCROLLS) <= 0
        assert shown.violations() == []
        assert shown.run("() => document.querySelectorAll('.bar').length") > 5
