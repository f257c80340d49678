"""Derive: runs the layered SQL of sql/ and asserts grain and keys."""
