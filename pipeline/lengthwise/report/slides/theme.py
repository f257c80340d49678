"""One sober look: dark text, slate headers, titles on the left."""

import re

FONT = "Arial"
SLATE, DARK, PALE = "2F4858", "1A1A1A", "EEF2F4"
COLOURS = {"dk2": SLATE, "lt2": PALE, "accent1": SLATE, "accent2": "0072B2"}
TITLE_SIZE = 2200


def with_look(content: bytes) -> bytes:
    """Return a theme or a master with our fonts, colours and title style.

    Their text is changed in place: a parser would drop the declarations that newer programs
    refer to in them.
    """
    text = content.decode("utf-8")
    for name, colour in COLOURS.items():
        text = re.sub(
            rf"(<a:{name}>\s*<a:srgbClr val=\")[0-9A-Fa-f]{{6}}", rf"\g<1>{colour}", text
        )
    text = re.sub(
        r"(<a:(?:major|minor)Font>\s*<a:latin typeface=\")[^\"]*", rf"\g<1>{FONT}", text
    )
    return re.sub(r"<p:titleStyle>.*?</p:titleStyle>", _title, text, flags=re.DOTALL).encode()


def _title(match: re.Match[str]) -> str:
    style = re.sub(r'algn="ctr"', 'algn="l"', match[0], count=1)
    return re.sub(
        r'(<a:defRPr[^>]*?)sz="\d+"', rf'\g<1>sz="{TITLE_SIZE}" b="1"', style, count=1
    )
