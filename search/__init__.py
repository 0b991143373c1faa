"""Questions asked of an index."""
