"""Cases of healing, survival and loss to follow-up."""

METHODS: dict = {}
