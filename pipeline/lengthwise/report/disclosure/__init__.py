"""Disclosure control: what of a run may be shown to whom (pure)."""

from lengthwise.report.disclosure.view import shared_view

__all__ = ["shared_view"]
