"""Which tables stand on the sheets, and what their columns mean."""
