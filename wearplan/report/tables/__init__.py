"""Tables people read, built from results; one table writes itself as text, CSV, Markdown and HTML."""
