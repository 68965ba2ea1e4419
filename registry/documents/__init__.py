"""Paper: a frozen dataclass in, the bytes of a PDF, CSV or JSON file out.

Nothing here looks anything up or reads a clock: what is not in the dataclass is not
on the paper, and the same dataclass gives the same bytes.
"""
