"""Doing a record's measurement again: its photographs found by digest, every figure compared."""
