"""What is written of a take, compared with what stands, and withdrawn."""
