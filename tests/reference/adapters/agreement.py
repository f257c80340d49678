"""Cases of the agreement of length methods and of readers."""

METHODS: dict = {}
