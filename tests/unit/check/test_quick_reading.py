"""The quick way of reading plain rows gives what the careful way gives, whatever stands there."""

import random

import pytest

from lengthwise.check.reading import plan_reading
from lengthwise.dictionary import Field, Schema, all_schemas
from lengthwise.ingest.dialect import dialect
from lengthwise.ingest.mapping import FileRule
from lengthwise.ingest.source import open_source
from lengthwise.store.database import connect

_ODD = (
    "", " ", "not_recorded", "NOT_RECORDED", " unreadable ", "not_applicable", "nan", "inf", "-inf",
    "1e1", "1_0", "0x10", "+9", "-0", "1.5", "1,5", "16.0", " 16", "16 ", "\u00a016", "16\t",
    "\u200916\u2009", "1e400", "12345678901234567890", "yes", "Yes", " no", "YES ", "true", "1",
    "a b", "x" * 40, "x" * 41, "-lead", "café", "2026-01", "2026-Q3", "2026-13", "2026-02-29",
    " 2026-02-03", "2026-02-03 ", "03/02/2026", "3.2.2026", "0026-01-01", "99999",
)  # fmt: skip


def _good(item: Field, export: Schema, *, decimal: str, dates: str) -> str:
    if item.enum:
        return item.enum[-1]
    if item.type == "boolean":
        return "no"
    if item.type == "date":
        return "2026-02-03" if dates == "ymd" else "03/02/2026"
    if item.type in ("number", "integer"):
        low, high = item.minimum or 0, item.maximum or 100
        whole = str(int((low + high) // 2))
        return whole + f"{decimal}5" if item.type == "number" else whole
    return "2026-02" if item.name == "period" else "A1"


def _rows(export: Schema, decimal: str, dates: str) -> list[list[str]]:
    """Return rows of good cells with one odd, two odd and none, and odd around good ones."""
    choose = random.Random(8)
    good = [_good(item, export, decimal=decimal, dates=dates) for item in export.fields]
    rows = [good, good]
    for place, item in enumerate(export.fields):
        around = [f" {good[place]}", f"{good[place]}\u3000", good[place].upper(), *item.enum]
        for odd in (*_ODD, *around):
            row = list(good)
            row[place] = odd
            rows.append(list(row))
            row[choose.randrange(len(row))] = choose.choice(_ODD)
            rows.append(row)
    return rows


@pytest.mark.parametrize("export", list(all_schemas()))
@pytest.mark.parametrize(("decimal", "dates"), [(".", "ymd"), (",", "dmy")])
def test_plain_rows_are_read_as_the_careful_way_reads_them(tmp_path, export, decimal, dates):
    # A value of one's own may even be a word for an empty cell, or have a blank at its end.
    own = {"canal": {"unreadable": "own", "Y ": "own", "Y1": "own"}, "method": {"own": "own"}}
    schema = all_schemas(own)[export]
    rows = _rows(schema, decimal, dates)
    path = tmp_path / f"{export}.csv"
    names = [item.name for item in schema.fields]
    path.write_text(
        "\n".join(";".join(cells) for cells in [names, *rows]) + "\n", encoding="utf-8"
    )
    rule = FileRule(path.name, export, dialect(";", decimal, "utf-8", dates))
    plan = plan_reading(schema, open_source(path, rule, schema, tmp_path))
    careful = plan.typed.replace(" as is_plain from", " and false as is_plain from")
    connection = connect(None)
    try:
        quick = connection.execute(plan.typed, {"path": str(path)}).fetchall()
        assert careful != plan.typed
        assert connection.execute(careful, {"path": str(path)}).fetchall() == quick
    finally:
        connection.close()
    assert len(quick) == len(rows)
    assert not quick[0][-1]
    assert 0 < sum(row[-1] for row in quick) < len(rows)
