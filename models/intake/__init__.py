"""What people hand in: raw words in, a checked command or its faults out. One file per noun; no database, no clock."""
