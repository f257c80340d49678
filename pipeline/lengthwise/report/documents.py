"""The kinds of documents: their source, formats, readers, and what each may know."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lengthwise.errors import ReportError
from lengthwise.folder import AuditFolder

if TYPE_CHECKING:
    from lengthwise.report.run_data import RunData


@dataclass(frozen=True, slots=True)
class Document:
    """One document to render.

    Attributes
    ----------
    name : str
        File name without ending.
    run_data : RunData
        All that the document may know; it is written beside the render and nothing else is.
    subject : str
        The clinician whose sheet it is, else empty; never part of a name.
    """

    name: str
    run_data: "RunData"
    subject: str = ""


INTERNAL, CLINICIANS, SHARED = "internal", "clinicians", "shared"
Views = Callable[["RunData", AuditFolder], list[Document]]
Apart = Callable[[list[Document], AuditFolder], dict[str, str]]


def nothing_apart(documents: list[Document], folder: AuditFolder) -> dict[str, str]:
    """Return no file, for a kind that keeps nothing apart."""
    return {}


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of document.

    Attributes
    ----------
    source : str
        The .qmd in reports/; it has the parameters `database` and `run`.
    formats : tuple of str
        What is made where nobody asks for less.
    audience : str
        The folder below reports/<period>: internal, clinicians or shared.
    documents : function
        From a run and the audit folder to the documents of this kind.
    apart : function
        From the documents and the audit folder to texts by file name that belong to them
        and must not lie beside them; they go to the internal folder.
    """

    name: str
    source: str
    formats: tuple[str, ...]
    audience: str
    documents: Views
    apart: Apart = nothing_apart


def _quarterly(run_data: "RunData", folder: AuditFolder) -> list[Document]:
    from lengthwise.report.disclosure import internal_view

    return [Document(f"quarterly-audit-{run_data.run['period']}", internal_view(run_data))]


def _clinician(run_data: "RunData", folder: AuditFolder) -> list[Document]:
    from lengthwise.report.clinician_key import key_path, read_key, with_new
    from lengthwise.report.clinician_view import clinician_view, clinicians_of

    known = read_key(key_path(folder.reports(str(run_data.run["period"]))))
    slugs = with_new(known, clinicians_of(run_data))
    return [
        Document(slug, clinician_view(run_data, code, slug), code)
        # In the order of the slugs: neither progress nor manifest shows an order of people.
        for code, slug in sorted(slugs.items(), key=lambda pair: pair[1])
    ]


def _clinician_key(documents: list[Document], folder: AuditFolder) -> dict[str, str]:
    from lengthwise.report.clinician_key import FILE_NAME, key_text

    return {FILE_NAME: key_text({item.subject: item.name for item in documents})}


def _study_club(run_data: "RunData", folder: AuditFolder) -> list[Document]:
    from lengthwise.report.disclosure import shared_view
    from lengthwise.report.shared_releases import read_releases

    view = shared_view(run_data, read_releases(folder))
    return [Document(f"study-club-{run_data.run['period']}", view)]


def _releases(documents: list[Document], folder: AuditFolder) -> dict[str, str]:
    from lengthwise.report.shared_releases import FILE_NAME, releases_text

    return {FILE_NAME: releases_text(folder, [item.run_data for item in documents])}


# A new kind is one line here and its source in reports/.
KINDS = {
    kind.name: kind
    for kind in (
        Kind(
            "quarterly", "quarterly_audit.qmd", ("html", "pdf", "docx"), INTERNAL, _quarterly
        ),
        Kind(
            "clinician", "clinician_feedback.qmd", ("html", "pdf"), CLINICIANS, _clinician,
            _clinician_key,
        ),
        Kind("study-club", "study_club.qmd", ("pptx", "html"), SHARED, _study_club, _releases),
    )
}  # fmt: skip


def kind_of(name: str) -> Kind:
    """Return the kind of a name.

    Raises
    ------
    ReportError
        There is no such kind.
    """
    if name not in KINDS:
        raise ReportError(f"There is no report {name}; there are {', '.join(KINDS)}.")
    return KINDS[name]


def chosen_formats(kind: Kind, wanted: tuple[str, ...] | None) -> tuple[str, ...]:
    """Return the formats to make; one the kind does not have is refused.

    Raises
    ------
    ReportError
        With the formats that the kind has.
    """
    if unknown := sorted(set(wanted or ()) - set(kind.formats)):
        raise ReportError(
            f"Unknown format {', '.join(unknown)} for the report {kind.name}; known: "
            f"{', '.join(kind.formats)}."
        )
    return tuple(wanted or kind.formats)
