"""The database's history, one dated change each."""
