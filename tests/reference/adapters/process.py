"""Cases of fill level, charts, pooling and planning."""

METHODS: dict = {}
