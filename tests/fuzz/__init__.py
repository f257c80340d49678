"""Mutated files by the thousand: nothing may crash, nothing may be lost, nothing may be told."""
