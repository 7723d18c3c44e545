"""How well such outlooks have done: earlier fits of a drive held against what was read later."""
