"""One file as values, places and faults: text, TOML, CSV, and what was found wrong, all at once."""
