"""Small pieces of an HTML page; every text is escaped here and nowhere else."""

from collections.abc import Sequence

from lengthwise.report.escape import html, slug

Cell = str | int | float | None


def share(part: float, whole: float) -> str:
    """Return a share as people read it, with its numerator and denominator."""
    if not whole:
        return "0 of 0"
    hundred = 100 * part / whole
    shown = f"{hundred:.0f}" if hundred in (0, 100) or 1 <= hundred <= 99 else f"{hundred:.1f}"
    return f"{part:,.0f} of {whole:,.0f} ({shown} in 100)"


def bar(fraction: float, text: str) -> str:
    """Return a cell's text over a bar of that length, 0-1; the bar says nothing more."""
    width = 100 * min(max(fraction, 0.0), 1.0)
    return (
        f'{html(text)}<span class="bar" aria-hidden="true">'
        f'<span style="width:{width:.1f}%"></span></span>'
    )


class Markup(str):
    """Text that is HTML already."""

    __slots__ = ()


def _cell(value: Cell) -> str:
    if isinstance(value, Markup):
        return str(value)
    if value is None:
        return "–"
    return html(f"{value:,}" if isinstance(value, int) else str(value))


def table(caption: str, columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    """Return a table whose first column heads its rows; wide ones scroll in a box of their own."""
    ident = slug(caption)
    head = "".join(f'<th scope="col">{html(name)}</th>' for name in columns)
    body = "".join(
        f'<tr><th scope="row">{_cell(first)}</th>'
        + "".join(f"<td>{_cell(value)}</td>" for value in rest)
        + "</tr>\n"
        for first, *rest in rows
    )
    return (
        f'<div class="table-scroll" role="region" tabindex="0" aria-labelledby="{ident}">\n'
        f'<table><caption id="{ident}">{html(caption)}</caption>\n'
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{body}</tbody></table></div>\n"
    )


def paragraph(text: str) -> str:
    """Return a paragraph."""
    return f"<p>{html(text)}</p>\n"


def section(title: str, *parts: str) -> str:
    """Return a section with its heading."""
    ident = f"part-{slug(title)}"
    return (
        f'<section aria-labelledby="{ident}">\n<h2 id="{ident}">{html(title)}</h2>\n'
        + "".join(parts)
        + "</section>\n"
    )


def page(title: str, subtitle: str, style: str, sections: Sequence[tuple[str, str]]) -> str:
    """Return a whole page; `sections` are (title, HTML) in order."""
    links = "".join(
        f'<li><a href="#part-{slug(name)}">{html(name)}</a></li>\n' for name, _ in sections
    )
    return (
        '<!doctype html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n"
        '<a class="skip-link" href="#content">Skip to the content</a>\n'
        f'<header>\n<h1>{html(title)}</h1>\n<p class="subtitle">{html(subtitle)}</p>\n</header>\n'
        f'<nav aria-label="Contents">\n<ul>\n{links}</ul>\n</nav>\n'
        '<main id="content" tabindex="-1">\n'
        + "".join(section(name, body) for name, body in sections)
        + "</main>\n</body>\n</html>\n"
    )
