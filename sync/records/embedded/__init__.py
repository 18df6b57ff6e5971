"""The store of one desk in one folder: a journal, and views in small files, with no server beside it.

It may import the store's interface, the disk and the wire; nothing here knows what a record means.
"""
