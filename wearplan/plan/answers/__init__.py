"""Answers made of a solved plan: stops with reasons, deferral, trade-off, worse ground, why it is impossible."""
