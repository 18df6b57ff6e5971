"""The use cases: what is done with records, from taking in an operation to restoring a backup.

It may import all of `sync`; nothing here knows HTTP, a screen or the layout of a page.
"""
