"""The regression of one kind of tool: its likelihood and posterior, its terms, and the state of each life under it."""
