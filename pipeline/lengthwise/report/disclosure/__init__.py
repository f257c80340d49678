"""Disclosure control: what of a run may be shown to whom (pure)."""

from lengthwise.report.disclosure.releases import release_record
from lengthwise.report.disclosure.view import shared_view

__all__ = ["release_record", "shared_view"]
