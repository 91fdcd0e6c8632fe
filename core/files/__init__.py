"""Keeping files safe: what a save promises, and what is there when something went wrong."""
