"""What people hand in about buying."""
