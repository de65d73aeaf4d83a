"""Pure costing: a design becomes materials, labour, overhead and a price per outlet, as lines that explain themselves.

Plain values in, plain values out. No database, clock, settings or page stands in this room;
it imports `models.trade` only.
"""
