"""Everything that knows nothing of grafting: settings, errors, time, the database, writing."""
