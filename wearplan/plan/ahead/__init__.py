"""What lies ahead: tools and their outlook, windows and what a stop takes, and what every interval costs and risks."""
