"""The use cases: what is done with records, from taking an operation in to restoring a backup.

It may import all of `sync`; nothing here knows HTTP, a screen or a page's layout.
"""
