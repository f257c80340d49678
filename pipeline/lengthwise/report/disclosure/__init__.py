"""Disclosure control: what of a run may be shown to whom (pure)."""

from lengthwise.report.disclosure.internal import internal_view
from lengthwise.report.disclosure.releases import release_record
from lengthwise.report.disclosure.view import as_shared, shared_view

__all__ = ["as_shared", "internal_view", "release_record", "shared_view"]
