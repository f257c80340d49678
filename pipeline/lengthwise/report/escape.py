"""Make text that came from a file harmless for the place where it is printed."""

import html as html_library
import re
import unicodedata

# Everything Markdown, Quarto shortcodes, maths, citations or entities could react to.
_MARKDOWN_SPECIAL = re.compile(r"([\\`*_{}\[\]<>()#+\-.!|~^$@\"'&:=])")
_TYPST_SPECIAL = re.compile(r"([\\#$*_`<>@=\-+/\[\]{}~\"'])")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")


def plain(text: str) -> str:
    """Return `text` on one line, without control, direction or invisible characters.

    Direction marks and zero-width characters (Unicode category Cf) can make a printed
    value read differently from what is stored; they are removed.
    """
    kept = (_blank_if_space(character) for character in str(text))
    return " ".join("".join(kept).split())


def _blank_if_space(character: str) -> str:
    category = unicodedata.category(character)
    if character.isspace() or category in {"Zl", "Zp"}:
        return " "
    return "" if category in {"Cc", "Cf", "Co", "Cs", "Cn"} else character


def markdown(text: str) -> str:
    """Return `text` as Markdown that shows it letter by letter."""
    return _MARKDOWN_SPECIAL.sub(r"\\\1", plain(text))


def attribute(text: str) -> str:
    """Return `text` for a quoted Markdown attribute such as an alternative text.

    Backslashes and brackets are replaced rather than escaped, since Quarto reads
    shortcodes before anything else is parsed.
    """
    swaps: dict[str, str | int | None] = {
        '"': "'",
        "\\": "/",
        "{": "(",
        "}": ")",
        "<": "(",
        ">": ")",
        "`": "'",
    }
    return plain(text).translate(str.maketrans(swaps))


def html(text: str) -> str:
    """Return `text` for an HTML element or a quoted HTML attribute."""
    return html_library.escape(plain(text), quote=True)


def typst(text: str) -> str:
    """Return `text` for Typst markup."""
    return _TYPST_SPECIAL.sub(r"\\\1", plain(text))


def typst_string(text: str) -> str:
    """Return `text` for a quoted Typst string."""
    return plain(text).replace("\\", "\\\\").replace('"', '\\"')


def csv(text: str) -> str:
    """Return `text` so that a spreadsheet does not run it as a formula (text columns only)."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def slug(text: str) -> str:
    """Return `text` as letters, digits and hyphens, for labels and file names."""
    return re.sub(r"[^a-z0-9]+", "-", plain(text).lower()).strip("-") or "unnamed"
