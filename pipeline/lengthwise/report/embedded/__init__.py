"""The renderer for machines without Quarto: the same .qmd, executed and converted here."""
