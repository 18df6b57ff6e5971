"""A day of the desk recorded call by call, and every disk that a crash in it may leave, opened again."""
