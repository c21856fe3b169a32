"""The database engine for SQLite: Django's own, with the writers of one process in a line."""
