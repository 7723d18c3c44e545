"""Records out of tables: each with the cell it came from."""
