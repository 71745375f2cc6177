"""The web, the database, and the use-cases that both processes share."""
