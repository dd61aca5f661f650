"""The page: photographs in, the same measurement as on the command line out, for a phone in a yard or a desk."""
