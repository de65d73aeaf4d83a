"""Pages of buying."""
