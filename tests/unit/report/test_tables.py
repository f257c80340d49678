import pytest

from lengthwise.report.tables import MASKED_NOTE, Markup, callout, figure, pipe_table, text


def test_numbers_are_aligned_right_and_texts_left():
    table = pipe_table([text("Name"), figure("n")], [["a", "1"]], caption="C", label="x")
    rule = table.splitlines()[1].split("|")
    assert rule[1].strip().endswith("-")
    assert rule[2].strip().endswith(":")


def test_caption_and_label_follow_the_table():
    table = pipe_table([text("Name")], [["a"]], caption="Lengths (mm)", label="lengths")
    assert r": Lengths \(mm\) {#tbl-lengths}" in table


def test_cells_are_escaped_unless_they_are_markup():
    rows = [["a|b", Markup("**c**")]]
    table = pipe_table([text("X"), text("Y")], rows, caption="C", label="x")
    assert r"a\|b" in table
    assert "**c**" in table


def test_the_masked_sign_is_explained_where_it_stands():
    columns = [text("X"), figure("n")]
    masked = pipe_table(columns, [["a", "[m]"]], caption="C", label="x")
    shown = pipe_table(columns, [["a", "12"]], caption="C", label="x")
    explanation = MASKED_NOTE.split("=")[1].strip()[:20]
    assert explanation in masked
    assert explanation not in shown


def test_numbers_with_words_do_not_break_over_lines():
    table = pipe_table([figure("Met")], [["171 of 214"]], caption="C", label="x")
    assert "171\u00a0of\u00a0214" in table


def test_a_column_without_content_is_left_out():
    table = pipe_table([text("X"), text("Remark")], [["a", ""]], caption="C", label="x")
    assert "Remark" not in table


def test_rows_of_the_wrong_length_are_a_programmers_error():
    with pytest.raises(ValueError, match="2 cells"):
        pipe_table([text("X"), text("Y")], [["a"]], caption="C", label="x")


def test_a_callout_title_cannot_leave_its_quotes():
    assert 'title="a\'b"' in callout("note", 'a"b', "body")
