"""Sheets, codes, saddles, cameras: the part that knows nothing of couplings."""
