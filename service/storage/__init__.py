"""Stores, places, boxes, what lay where and when, and looks at bundles."""
