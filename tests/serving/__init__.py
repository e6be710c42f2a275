"""The page at the drill: how it is served, what is asked and saved, and who is let in."""
