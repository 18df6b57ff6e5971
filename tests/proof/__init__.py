"""What Layby was put through to show that nothing is lost and nobody gets in: the table, and the report on it."""
