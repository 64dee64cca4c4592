"""People, parties, roles, sign-in and privacy choices."""
