"""Logging an inspection by hand: the sheet as data, what its keys mean, and the record made of it. No widgets here."""
