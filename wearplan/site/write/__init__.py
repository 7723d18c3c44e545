"""Whole or not at all: new records, appended rows, edits, a new folder, drafts."""
