"""Pure knowledge of the craft: plain values in, plain values out. No database, clock, settings or pages."""
