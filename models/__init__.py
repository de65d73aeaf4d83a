"""What the shop knows and does. Nothing in here knows HTTP or HTML."""
