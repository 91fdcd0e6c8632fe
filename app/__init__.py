"""The window: views that show, and commands that change the one document."""
