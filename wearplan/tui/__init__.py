"""The terminal app: screens by task over the rooms' own functions."""
