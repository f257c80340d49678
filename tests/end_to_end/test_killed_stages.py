"""A load, a derivation or an analysis that is killed leaves all or nothing, and runs again."""

import os
from dataclasses import replace

import numpy as np
import pytest

from faults.bases import not_loaded
from faults.trials import STAGES, kills, prepared

# `make faults` kills two hundred times, packs included; a few kills of each are part of the tests.
KILLS = int(os.environ.get("LENGTHWISE_KILLS", "1"))
BY_NAME = {stage.name: stage for stage in STAGES}
# A slow moment of the machine must not let a kill come after the stage.
AT_MOST = 0.7


@pytest.fixture(scope="module")
def analysed(analysed_folder, tmp_path_factory):
    """Return the folder with a run, and how an analysis of a later quarter changes it."""
    return prepared(BY_NAME["derive"], analysed_folder, tmp_path_factory.mktemp("analysed"))


def require_nothing_lost(scene, number, work):
    tally = kills(scene, number, np.random.default_rng(20261125), work, at_most=AT_MOST)
    assert tally.failures == []
    assert tally.counts["landed inside"], "no kill came in time to interrupt anything"


def test_a_killed_load_leaves_all_or_nothing(tmp_path):
    stage = BY_NAME["ingest, new folder"]
    scene = prepared(stage, not_loaded(tmp_path / "base"), tmp_path)
    require_nothing_lost(scene, 5 * KILLS, tmp_path)


@pytest.mark.xdist_group("analysed")
def test_a_killed_derivation_leaves_all_that_was_stored(tmp_path, analysed):
    require_nothing_lost(analysed, KILLS, tmp_path)


@pytest.mark.xdist_group("analysed")
def test_a_killed_analysis_leaves_all_that_was_stored(tmp_path, analysed):
    # An analysis takes longer than the derivation, so these moments lie inside it too.
    require_nothing_lost(replace(analysed, stage=BY_NAME["analyse"]), KILLS, tmp_path)
