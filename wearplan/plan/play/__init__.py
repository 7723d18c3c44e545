"""The drive played on its draws: the plan, rules of thumb, foresight, and the tools used."""
