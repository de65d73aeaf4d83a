"""A piece as rows or as a length of chain: counts, links, sizes, checks, the order of work, drawing, work sheet.

Plain values in, plain values out; what a person can get wrong comes back as a fault with its reason, never as an
exception. Not here: prices, stock, pages.
"""
