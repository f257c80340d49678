"""Namespaces of the parts of a slide."""

from xml.etree import ElementTree

_BASE = "http://schemas.openxmlformats.org/"
_PREFIXES = {
    "a": f"{_BASE}drawingml/2006/main",
    "p": f"{_BASE}presentationml/2006/main",
    "r": f"{_BASE}officeDocument/2006/relationships",
}
for _prefix, _address in _PREFIXES.items():
    ElementTree.register_namespace(_prefix, _address)
DRAWING = f"{{{_PREFIXES['a']}}}"
SLIDES = f"{{{_PREFIXES['p']}}}"
