"""Which option is recommended, how sure that is, and what would change it."""
