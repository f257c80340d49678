"""A practice's summary for others, without rows, and the pooling of several (pure)."""
