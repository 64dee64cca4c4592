"""What the tests stand on: a PostgreSQL server, a browser, clean databases, a live server, counts and times."""
