"""Pages of costs and prices."""
