"""Grafts, the plants they became, and whether they took."""
