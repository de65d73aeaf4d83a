"""What people hand in about builds."""
