"""Cells run in their own process give what a kernel gives, errors included."""

import os
import sys
from pathlib import Path

import pytest

from lengthwise.errors import ReportError
from lengthwise.report.embedded.execute import execute
from lengthwise.report.embedded.in_process import only_prints, run_cells
from lengthwise.report.embedded.source import Cell


def cells(*codes):
    return [Cell(code, {"label": f"cell-{place}"}) for place, code in enumerate(codes)]


@pytest.fixture(autouse=True)
def same_environment(monkeypatch):
    # Set and undone by the fixture, since the cells run in the tests' own process here.
    monkeypatch.setenv("MPLBACKEND", "Agg")
    monkeypatch.setenv("LENGTHWISE_REPORT_ENGINE", "")


def printed(outputs):
    return ["".join(item["text"] for item in cell) for cell in outputs]


def test_cells_share_names_and_print_as_in_a_kernel(tmp_path):
    given = cells(
        "import os\nx = 2", "print(f'**{x}**')", "print(os.environ['LENGTHWISE_REPORT_ENGINE'])"
    )
    assert only_prints(given)
    here = printed(run_cells(given, tmp_path))
    assert here == ["", "**2**\n", "embedded\n"]
    assert here == printed(execute(given, tmp_path))


def test_cells_work_in_the_folder_and_the_caller_does_not(tmp_path):
    before = Path.cwd()
    (output,) = run_cells(cells("from pathlib import Path\nprint(Path.cwd())"), tmp_path)
    assert output[0]["text"].strip() == os.path.realpath(tmp_path)
    assert Path.cwd() == before


def test_a_failed_cell_is_named_without_its_values(tmp_path):
    with pytest.raises(ReportError) as caught:
        run_cells(cells("x = 1", "raise ValueError('secret T0042')"), tmp_path)
    assert str(caught.value) == "The report's cell 'cell-1' stopped with ValueError."
    assert caught.value.__suppress_context__


def test_warnings_of_cells_reach_no_screen(tmp_path, capfd):
    run_cells(cells("import sys\nprint('T0042', file=sys.stderr)"), tmp_path)
    assert "T0042" not in capfd.readouterr().err
    assert sys.stdout is not None


@pytest.mark.parametrize("code", ["x = 1\nx", "display(1)", "f()"])
def test_a_cell_that_shows_a_value_needs_a_kernel(code):
    assert not only_prints(cells("print(1)", code))
