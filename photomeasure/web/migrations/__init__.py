"""The store's tables, step by step from the first edition to this one: Alembic's scripts, and the one call that runs them."""
