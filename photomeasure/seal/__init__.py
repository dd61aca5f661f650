"""Seals: the records of a case held together and signed, so that anybody can see whether anything was changed since."""
