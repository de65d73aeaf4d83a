"""What people hand in about what can be made, and what to make next."""
