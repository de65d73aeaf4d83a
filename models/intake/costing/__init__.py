"""What people hand in about costs and prices."""
