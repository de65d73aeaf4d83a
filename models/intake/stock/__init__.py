"""What people hand in about stock."""
