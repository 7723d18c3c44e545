"""Values of each file to records, and what in them does not go together."""
