import pytest

from lengthwise.report import figures
from lengthwise.report.figures.figure import save
from lengthwise.report.figures.method_pairs import pair_frame
from lengthwise.report.wording import banned_words, in_hundred, number

MAKERS = {
    "bland-altman": lambda run: figures.bland_altman(run, "electronic"),
    "method-pairs": figures.method_pairs,
    "quarter": lambda run: figures.fill_levels(run, "quarter"),
    "clinician": lambda run: figures.fill_levels(run, "clinician"),
    "tooth-type": lambda run: figures.fill_levels(run, "tooth_type"),
    "outcome": figures.outcome_levels,
    "run-chart": lambda run: figures.run_chart(run, "fill_within"),
    "funnel": lambda run: figures.funnel(run, "fill_outside"),
}


@pytest.fixture(params=MAKERS)
def figure(request, run_data):
    return MAKERS[request.param](run_data)


def test_every_figure_has_its_words(figure):
    assert figure.headline.endswith(".")
    assert "n = " in figure.subtitle or "n beside" in figure.subtitle
    assert "202" in figure.subtitle
    assert len(figure.alt_text) > 60
    assert banned_words(f"{figure.headline} {figure.subtitle} {figure.alt_text}") == []


def test_the_same_figure_has_the_same_bytes_and_no_metadata(figure, tmp_path):
    first = save(figure, tmp_path / "a" / "x.png").read_bytes()
    second = save(figure, tmp_path / "b" / "x.png").read_bytes()
    assert first == second
    assert b"Software" not in first
    assert str(tmp_path).encode() not in first


@pytest.mark.parametrize("name", MAKERS)
def test_a_run_without_results_has_no_figure(name, nothing_analysed):
    assert MAKERS[name](nothing_analysed) is None


def test_limits_drawn_are_the_limits_stored(run_data):
    figure = MAKERS["bland-altman"](run_data)
    lines = next(
        layer.geom.data
        for layer in figure.plot.layers
        if layer.geom.data is not None and "measure" in layer.geom.data
    )
    stored = run_data.select(section="agreement", subject="electronic", reference="confirmed")
    for _, line in lines.iterrows():
        own = stored[stored["measure"] == line["measure"]].iloc[0]
        assert (line["estimate"], line["lower"], line["upper"]) == (
            *(own["estimate"], own["lower"], own["upper"]),
        )


def test_alternative_text_of_limits_holds_the_stored_numbers(run_data):
    figure = MAKERS["bland-altman"](run_data)
    for measure in ("bias", "lower_limit", "upper_limit"):
        value = run_data.one(subject="electronic", reference="confirmed", measure=measure)
        assert number(value["estimate"], signed=True) in figure.alt_text


def test_refused_methods_have_no_limits_figure(run_data):
    assert figures.bland_altman(run_data, "cbct") is None
    assert "cbct" not in set(pair_frame(run_data)["subject"])


def test_strata_with_too_few_are_left_to_the_table(run_data):
    figure = MAKERS["clinician"](run_data)
    assert "C06" not in figure.alt_text
    assert "1 with too few" in figure.subtitle


def test_outcome_alternative_text_holds_counts_and_shares(run_data):
    figure = MAKERS["outcome"](run_data)
    assert "7 of 24" in figure.alt_text
    assert in_hundred(7 / 24) in figure.alt_text


def test_figures_name_the_results_they_draw(run_data):
    known = set(run_data.estimates["result_id"])
    for name in ("bland-altman", "clinician", "outcome"):
        assert set(MAKERS[name](run_data).result_ids) <= known
        assert MAKERS[name](run_data).result_ids
