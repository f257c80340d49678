"""The committed demo files: reproducible, and faulty only where `planted_faults.csv` says."""

import importlib
import re
import sys

import pandas as pd
import pytest
from exports_on_disk import DEMO, KEYS, ROOT, has_fault, listed, raw_lines

from folders import demo_fields
from lengthwise.dictionary import EXPORTS, schema


@pytest.fixture(scope="module")
def generate():
    sys.path.insert(0, str(ROOT))
    try:
        yield importlib.import_module("demo_dataset.generate").generate
    finally:
        sys.path.remove(str(ROOT))


class TestFiles:
    def test_rerun_gives_the_same_bytes(self, generate, tmp_path):
        generate(tmp_path)
        names = [
            "truth.toml",
            "planted_faults.csv",
            *(f"exports/{name}.csv" for name in EXPORTS),
        ]
        for name in names:
            assert (tmp_path / name).read_bytes() == (DEMO / name).read_bytes(), name

    def test_another_seed_gives_other_rows(self, generate, tmp_path):
        generate(tmp_path, seed=1, scale=0.05)
        other = (tmp_path / "exports" / "readings.csv").read_bytes()
        assert other != (DEMO / "exports" / "readings.csv").read_bytes()

    def test_scale_multiplies_the_treatments(self, generate, tmp_path):
        generate(tmp_path, scale=0.1)
        rows = (tmp_path / "exports" / "treatments.csv").read_text(encoding="utf-8").count("\n")
        faulty = sum(item["file"] == "treatments.csv" for item in listed())
        assert 180 <= rows <= 180 + faulty + 20

    def test_sizes(self, truth):
        assert 1_700 <= len(raw_lines("treatments")) <= 1_900
        assert 4_000 <= len(raw_lines("canals")) <= 4_500
        assert 18_000 <= len(raw_lines("readings")) <= 22_000
        for name in EXPORTS:
            assert truth["rows"][name] == len(raw_lines(name))
        assert sum(path.stat().st_size for path in DEMO.rglob("*.csv")) < 4_000_000

    def test_columns_are_those_of_the_dictionary(self):
        for name in EXPORTS:
            path = DEMO / "exports" / f"{name}.csv"
            header = path.read_text(encoding="utf-8").split("\n")[0].split(",")
            assert header == [item.name for item in demo_fields(name)], name

    def test_every_effect_states_size_unit_place_and_basis(self, truth):
        for group in ("lengths", "filling", "outcome"):
            for name, effect in truth[group].items():
                assert set(effect) == {"size", "unit", "acts_on", "basis"}, name
                assert all(effect[key] != "" for key in effect), name


class TestPlantedFaults:
    def test_each_names_a_row_and_a_column_that_exist(self):
        for item in listed():
            name = item["file"].removesuffix(".csv")
            assert 1 <= int(item["row"]) <= len(raw_lines(name))
            columns = [field.name for field in demo_fields(name)]
            assert item["column"] in ["", *columns]
            assert item["code"].startswith(schema(name).entity + ".")

    def test_listed_once(self):
        keys = [(item["file"], item["row"], item["code"]) for item in listed()]
        assert len(keys) == len(set(keys))

    def test_field_faults_stand_where_stated(self):
        for item in listed():
            name = item["file"].removesuffix(".csv")
            kind = re.search(
                r"_(missing|not_a_number|not_an_integer|not_yes_or_no|not_allowed|out_of_range"
                r"|malformed)$",
                item["code"],
            )
            if kind is None:
                continue
            line = raw_lines(name)[int(item["row"]) - 1].split(",")
            field = schema(name).field(item["column"])
            value = line[[f.name for f in demo_fields(name)].index(field.name)]
            assert has_fault(field, value, schema(name).missing) == kind[1], item

    def test_shape_faults_stand_where_stated(self):
        for item in listed():
            name = item["file"].removesuffix(".csv")
            line = raw_lines(name)[int(item["row"]) - 1]
            width = len(line.split(",")) - len(demo_fields(name))
            fault = item["code"].split(".")[1]
            assert (width > 0) == (fault == "too_many_fields")
            assert (width < 0) == (fault == "too_few_fields")
            assert bool(re.search(r"[\x00-\x1f]", line)) == (fault == "control_character")

    def test_duplicates_repeat_an_earlier_row(self):
        for item in [item for item in listed() if item["code"].endswith(".duplicate_row")]:
            lines = raw_lines(item["file"].removesuffix(".csv"))
            row = int(item["row"]) - 1
            assert lines[row] in lines[:row]

    def test_conflicts_list_every_row_of_the_key(self):
        conflicts = pd.DataFrame([i for i in listed() if i["code"].endswith(".key_conflict")])
        for file, group in conflicts.groupby("file"):
            assert len(group) == 2
            name = file.removesuffix(".csv")
            order = [field.name for field in demo_fields(name)]
            cells = [raw_lines(name)[int(row) - 1].split(",") for row in group["row"]]
            keys = {tuple(row[order.index(k)] for k in schema(name).key) for row in cells}
            assert len(keys) == 1
            assert cells[0] != cells[1]

    def test_no_clean_row_hangs_on_a_planted_parent(self, clean):
        treatments = set(clean["treatments"]["treatment_id"])
        canals = set(map(tuple, clean["canals"][KEYS].to_numpy()))
        for name in ("canals", "follow_ups", "incidents"):
            assert set(clean[name]["treatment_id"]) <= treatments, name
        for name in ("readings", "fills"):
            assert set(map(tuple, clean[name][KEYS].to_numpy())) <= canals, name

    def test_every_kind_of_fault_is_planted(self):
        codes = {item["code"] for item in listed()}
        kinds = ["missing", "not_a_number", "not_an_integer", "not_yes_or_no", "not_allowed",
                 "out_of_range", "malformed", "too_many_fields", "too_few_fields",
                 "control_character", "field_too_long", "duplicate_row", "key_conflict",
                 "treatment_unknown", "canal_unknown", "before_treatment"]  # fmt: skip
        for kind in kinds:
            assert any(code.endswith(kind) for code in codes), kind
        warnings = {item["code"] for item in listed() if item["severity"] == "warning"}
        assert warnings == {
            "canal.not_usual_for_tooth", "canal.confirmed_length_unusual_for_tooth",
            "canal.length_spread_large", "reading.length_unusual_for_tooth",
            "treatment.diagnosis_without_lesion", "fill.offset_contradicts_beyond",
            "follow_up.loss_without_reason", "follow_up.loss_reason_but_present",
            "reading.canals_swapped", "reading.methods_far_apart",
            "fill.level_does_not_fit_lengths",
        }  # fmt: skip
