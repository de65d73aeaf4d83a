"""What people hand in about pieces laid out in rows or as chain."""
