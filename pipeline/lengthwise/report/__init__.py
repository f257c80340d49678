"""Reports: they show the result tables of one stored run and compute nothing new."""
