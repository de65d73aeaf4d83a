"""Pages of pieces laid out in rows or as chain."""
