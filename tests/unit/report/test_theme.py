import pytest

from lengthwise.report import theme


def test_contrast_of_black_on_white_is_21():
    # WCAG 2.2, definition of contrast ratio: black on white is 21:1.
    assert theme.contrast(theme.BLACK, theme.WHITE) == pytest.approx(21.0)


@pytest.mark.parametrize("colour", [*theme.SERIES, *theme.LEVEL_COLOURS.values(), theme.GREY])
def test_graphic_colours_pass_three_to_one_on_white(colour):
    assert theme.contrast(colour, theme.WHITE) >= theme.GRAPHIC_CONTRAST


@pytest.mark.parametrize("colour", [theme.BLACK, theme.BLUE, theme.GREY, theme.DARK_GREY])
def test_text_colours_pass_four_and_a_half_to_one(colour):
    assert theme.contrast(colour, theme.WHITE) >= theme.TEXT_CONTRAST


def test_levels_differ_by_shape_and_line_as_well_as_colour():
    for codes in (theme.LEVEL_COLOURS, theme.LEVEL_SHAPES, theme.LEVEL_LINES):
        assert len(set(codes.values())) == len(codes)
