"""Clinical audit and outcomes pipeline for root-canal working lengths, filling levels and healing."""

__version__ = "0.1.0"
