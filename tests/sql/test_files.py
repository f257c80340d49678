"""Every SQL file holds what its header says."""

import re

import duckdb
import pytest

from lengthwise.resources import resource
from lengthwise.store.queries import read_sql

FILES = sorted(resource("sql").rglob("*.sql"))
HEADER = ["purpose", "grain", "inputs", "parameters"]
CHECK_HEADER = [*HEADER, "export", "code", "severity", "column", "remedy"]
SINGLE = [path for path in FILES if path.parent.name != "store"]
NAMED = re.compile(r"(?<![\w$])\$([a-z_]+)")


def _body(text):
    return "\n".join(line.partition("--")[0] for line in text.splitlines())


def _name(path):
    return f"{path.parent.name}/{path.stem}"


def test_there_are_files():
    assert len(FILES) > 30


@pytest.mark.parametrize("path", SINGLE, ids=_name)
def test_header_is_complete(path):
    header = read_sql(path).header
    wanted = CHECK_HEADER if path.parent.name == "checks" else HEADER
    assert list(header) == wanted
    assert all(header.values())


@pytest.mark.parametrize("path", SINGLE, ids=_name)
def test_one_statement_in_a_file(path):
    assert len(duckdb.extract_statements(path.read_text(encoding="utf-8"))) == 1


@pytest.mark.parametrize("path", SINGLE, ids=_name)
def test_named_parameters_are_those_of_the_header(path):
    statement = duckdb.extract_statements(path.read_text(encoding="utf-8"))[0]
    assert set(statement.named_parameters) == set(read_sql(path).parameters)
    assert set(NAMED.findall(_body(path.read_text(encoding="utf-8")))) == set(
        statement.named_parameters
    )


@pytest.mark.parametrize("path", SINGLE, ids=_name)
def test_inputs_named_in_the_header_are_those_read(path):
    sql = read_sql(path)
    layers = "staging|intermediate|marts|record|results"
    read = set(re.findall(rf"\b(?:from|join)\s+((?:{layers})\.\w+)", _body(sql.text)))
    said = {item.strip() for item in sql.header["inputs"].split(",")}
    assert read <= said
