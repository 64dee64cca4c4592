"""Bundles and the stick ledger: the heart of the service."""
