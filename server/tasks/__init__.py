"""What a command or a page asks of an open logbook: the evening, the mail, the books, the records.

Nothing here reads a command line or knows a route.
"""
