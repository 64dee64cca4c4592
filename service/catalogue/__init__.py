"""Kinds, varieties with their names and rights, rootstocks, growth stages, grafting methods."""
