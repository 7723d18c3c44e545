"""The records of stops, and which of them hold."""
