"""Pages of designs."""
