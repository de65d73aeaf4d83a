"""What people hand in about designs."""
