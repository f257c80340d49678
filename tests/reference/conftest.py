"""The `--cases` option and one test per case."""

from pathlib import Path

import pytest

from reference.runner import cases_of, default_cases


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--cases",
        metavar="DIR",
        default=None,
        help="run the cases of this folder (cases.json and data/) instead of the kept ones",
    )


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "case" not in metafunc.fixturenames:
        return
    # The option is unknown when this file is reached only through the whole `tests` folder.
    folder = metafunc.config.getoption("--cases", default=None)
    cases = default_cases() if folder is None else cases_of(Path(folder))
    metafunc.parametrize("case", cases, ids=[case.id for case in cases])
