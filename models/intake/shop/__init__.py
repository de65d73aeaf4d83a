"""What people hand in about the shop itself."""
