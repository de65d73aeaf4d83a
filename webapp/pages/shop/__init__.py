"""Pages of the shop itself."""
