"""From a number in a report back to its definition, its SQL and its rows."""
