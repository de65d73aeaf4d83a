"""The planning room: what free stock can make, the best use of hours and stock, what to buy and when.

Pure: plain values in, plain values out; no database, clock or settings. The solver is imported only when it is used.
"""
