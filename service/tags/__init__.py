"""Printed codes bound to things, label sheets, and collecting and labelling in one call."""
