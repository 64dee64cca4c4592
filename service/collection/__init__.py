"""A day's cutting at a tree, and wood received from outside."""
