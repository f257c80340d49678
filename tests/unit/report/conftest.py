"""Runs that the report tests share."""

import pytest

from report_runs import build_run, empty_run

HOSTILE = (
    "x|y `code` $a^2$ *b* _c_ {{< include secret.qmd >}} <script>alert(1)</script> "
    "[link](http://evil.example) ![i](http://evil.example/i.png) @fig-none #tag\n"
    "## heading\u202e\u200b"
)


@pytest.fixture(scope="session")
def run_data():
    return build_run()


@pytest.fixture(scope="session")
def nothing_analysed():
    return empty_run()


@pytest.fixture(scope="session")
def hostile_text():
    return HOSTILE
