"""Pages of what can be made, and what to make next."""
