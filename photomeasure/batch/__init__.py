"""Many rigs: which photographs belong to which, measured side by side, one record each and one table."""
