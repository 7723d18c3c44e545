"""What machines export: ring logs and raw samples, by a mapping that a person checked."""
