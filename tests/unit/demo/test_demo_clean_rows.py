"""The rows that are not planted raise no finding of their own."""

import numpy as np
import pytest
from exports_on_disk import has_fault, listed, raw_lines

from folders import demo_fields
from lengthwise.dictionary import EXPORTS, schema

SOFT_RANGE_MM = {
    "1": ((16.5, 32.6), (16.9, 26.7)), "2": ((17.7, 28.9), (18.5, 26.6)),
    "3": ((20.0, 38.4), (16.1, 34.5)), "4": ((15.5, 28.9), (17.0, 28.5)),
    "5": ((15.2, 28.4), (16.8, 28.1)), "6": ((17.0, 27.4), (17.0, 27.7)),
    "7": ((16.0, 26.2), (15.0, 25.5)), "8": ((14.0, 22.5), (14.8, 22.0)),
}  # fmt: skip  # handbook values, not verified row by row
USUAL_CANALS = {
    "upper": ["C", "C", "C", "C B P", "C B P", "MB MB2 DB P", "MB MB2 DB P"],
    "lower": ["C B L"] * 5 + ["MB ML MM D DB DL CS"] * 2,
}


class TestCleanRows:
    @pytest.mark.parametrize("name", EXPORTS)
    def test_no_field_fault(self, name):
        planted = {int(item["row"]) for item in listed() if item["file"] == f"{name}.csv"}
        fields = demo_fields(name)
        found = {
            (number, field.name)
            for number, line in enumerate(raw_lines(name), start=1)
            if number not in planted
            for field, value in zip(fields, line.split(","), strict=True)
            if has_fault(field, value, schema(name).missing)
        }
        assert not found

    @pytest.mark.parametrize("name", EXPORTS)
    def test_keys_are_unique(self, clean, name):
        assert not clean[name].duplicated(list(schema(name).key)).any()

    def test_canals_usual_for_their_tooth(self, clean):
        rows = clean["canals"].merge(clean["treatments"], on="treatment_id")
        for tooth, canal in set(zip(rows["tooth"], rows["canal"], strict=True)):
            if tooth[1] != "8":
                jaw = "upper" if tooth[0] in "12" else "lower"
                assert canal in USUAL_CANALS[jaw][int(tooth[1]) - 1].split(), (tooth, canal)

    @pytest.mark.parametrize(
        ("name", "column"), [("canals", "confirmed_length_mm"), ("readings", "length_mm")]
    )
    def test_lengths_inside_the_soft_limits(self, clean, name, column):
        rows = clean[name].merge(clean["treatments"], on="treatment_id").dropna(subset=[column])
        limits = [SOFT_RANGE_MM[tooth[1]][tooth[0] in "34"] for tooth in rows["tooth"]]
        low, high = np.array(limits).T
        assert ((rows[column] >= low - 4) & (rows[column] <= high)).all()

    def test_lengths_inside_a_molar_lie_close(self, clean):
        rows = clean["canals"].merge(clean["treatments"], on="treatment_id")
        molars = rows[rows["tooth"].str[1].isin(["6", "7", "8"])]
        spread = molars.groupby("treatment_id")["confirmed_length_mm"].agg(np.ptp)
        assert spread.max() <= 6.0

    def test_flags_agree(self, clean):
        fills, reviews, treated = clean["fills"], clean["follow_ups"], clean["treatments"]
        core, sealer = fills["core_beyond"], fills["sealer_beyond"]
        assert not ((core == "yes") & (fills["fill_offset_mm"] < 0)).any()
        assert not ((fills["fill_offset_mm"] > 0) & (core == "no") & (sealer == "no")).any()
        assert (sealer == "yes").sum() > (core == "yes").sum()
        lost = reviews["tooth_present"] == "no"
        assert reviews.loc[lost, "loss_reason"].notna().all()
        assert reviews.loc[~lost, "loss_reason"].isna().all()
        assert (reviews["days_from_treatment"] > 0).all()
        hidden = treated["apical_diagnosis"] == "asymptomatic_apical_periodontitis"
        assert not (hidden & (treated["preop_pai"] <= 2)).any()
