"""A mapping that cannot be followed says where, which key, what was expected; nothing crashes."""

import copy
import datetime
import re
import tomllib
from importlib.resources import files

import pytest

from lengthwise.errors import SettingsError
from lengthwise.ingest.mapping import load_mapping, mapping_from
from lengthwise.ingest.reshape_rules import FILE_KEYS, TABLE_KEYS
from own_sheets import SHAPES

PLAIN = {
    "defaults": {"separator": ";", "decimal": ",", "date_order": "dmy", "encoding": "utf-8"},
    "random_numbers": {"patient_id": "drawn by the register"},
    "file": [{"name": "a.csv", "export": "fills", "columns": {"x": "canal"}, "ignore": ["y"]}],
}
WRONG = (5, -1, 2.5, True, [], {}, "", "x", [5], {"x": 5}, [[]], datetime.date(2026, 1, 9))


def places(value, path=()):
    """Yield the path of every entry below a value."""
    items = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    for key, below in items:
        yield (*path, key)
        yield from places(below, (*path, key))


def changed(raw, path, value):
    """Return a copy with another value at a path."""
    found = copy.deepcopy(raw)
    place = found
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return found


def test_the_template_names_every_key_and_is_valid_with_its_signs_taken_away(tmp_path):
    text = files("lengthwise.templates").joinpath("mapping.toml").read_text(encoding="utf-8")
    for key in (
        *FILE_KEYS,
        *TABLE_KEYS,
        "name",
        "ignore",
        "separator",
        "encoding",
        "decimal",
        "date_order",
        "random_numbers",
    ):
        assert key in text
    first = text.partition("# One entry for a practice")[0]
    entries = [
        line.removeprefix("# ")
        for line in first.splitlines()
        if re.match(r"# (\w+ = |\[)", line)
    ]
    entries.insert(1, "[defaults]")
    entries = [line for line in entries if not line.startswith('ignore = ["shelf"]')]
    raw = tomllib.loads("\n".join(entries))
    found = mapping_from(raw)
    assert found.random_numbers == {"patient_id"}
    assert found.files["lengths 2026.csv"].export == "readings"


def refusal(raw):
    """Return the message with which a mapping is refused, or ''."""
    try:
        mapping_from(raw)
    except SettingsError as error:
        return str(error)
    return ""


@pytest.mark.parametrize("name", ["plain", *SHAPES])
def test_whatever_stands_in_an_entry_it_is_followed_or_refused_plainly(name):
    raw = PLAIN if name == "plain" else tomllib.loads(SHAPES[name][2])
    assert refusal(raw) == ""
    paths = list(places(raw))
    said = [refusal(changed(raw, path, value)) for path in paths for value in WRONG]
    strangers = [(*path[:-1], "stranger") for path in paths if isinstance(path[-1], str)]
    said += [refusal(changed(raw, path, "x")) for path in strangers]
    refused = [message for message in said if message]
    assert len(refused) > 100
    assert [message for message in refused if not message.startswith("mapping.toml")] == []


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ('separator = "/"', r'\[\[file\]\] "a.csv": separator: expected one of'),
        ("decimal = 5", "decimal: expected a text"),
        ('encoding = "rot13"', "encoding: not known"),
        ('encoding = "latin-99"', "encoding: not known"),
        ('date_order = "myd"', "date_order: expected ymd"),
        ('columns = { x = "length" }', "columns: length is no field of fills; expected one of"),
        ("columns = 5", "columns: expected a table of texts"),
        ("ignore = 5", "ignore: expected a list"),
        ('ignore = { memo = "" }', "ignore: expected a list"),
        ("skip_lines = -1", "skip_lines: expected the number"),
        ('skip_where = { x = "Total" }', "skip_where: expected"),
        ('fill_sign = "short"', "fill_sign: expected one of positive_beyond, positive_short"),
        ('unit = "inch"', "unit: expected one of mm, cm, tenth_mm"),
        ("confirmed_length_ends_mm = -0.5", "of use only with fill_reference"),
        ('fill_reference = "confirmed_length"', "needs confirmed_length_ends_mm"),
        ('fill_reference = "confirmed_length"\nconfirmed_length_ends = { confirmed = "wl" }', "two lengths"),
        ('recode = { core_beyond = { j = "ja" } }', "recode of fills: ja is no value of core_beyond; allowed are yes, no"),
        ('constants = { film_quality = "good" }', "constants of fills: good is no value"),
        ('table = "x"', "table: expected"),
        ("unit_of = 3", "unknown entry unit_of; known are"),
    ],
)  # fmt: skip
def test_an_error_names_file_key_and_what_was_expected(tmp_path, entry, says):
    path = tmp_path / "mapping.toml"
    own = "" if entry.startswith("columns") else 'columns = { x = "canal" }\n'
    path.write_text(
        f'[[file]]\nname = "a.csv"\nexport = "fills"\n{own}{entry}\n', encoding="utf-8"
    )
    with pytest.raises(SettingsError, match=says):
        load_mapping(path)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[defaults]\nseparator = ;\n', "not valid TOML near line 2"),
        ('[defaults]\nseparatr = ";"\n', r"mapping.toml, \[defaults\]: unknown entry separatr"),
        ('[file]\nname = "a.csv"\n', r"file is written as \[\[file\]\]"),
        ('[[file]]\nexport = "fills"\n', r'"number 1": name: expected the name'),
        ('[[file]]\nname = "a"\nexport = "fills"\n' * 2, "this file has two entries"),
        ("files = 3\n", "top level: unknown entry files"),
        (b"\xff\xfe", "not UTF-8"),
    ],
)  # fmt: skip
def test_what_is_no_mapping_at_all_is_told(tmp_path, text, says):
    path = tmp_path / "mapping.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(SettingsError, match=says):
        load_mapping(path)
