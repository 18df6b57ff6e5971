"""The store of one desk in one folder: a journal, and views in small files, with no server beside it.

It may import disk, wire, kernel and the store's interface; nothing here knows what a record means.
"""
