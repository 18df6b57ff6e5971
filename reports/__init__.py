"""Pages, PDF and mail: plain job sheet data in, bytes out.

Nothing here knows the records, the rules or the server; it draws what it is given.
"""
