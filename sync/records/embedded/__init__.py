"""The store of one desk in one folder: a journal, and views in small files, without a database server.

It may import the store's interface, the disk and the wire; nothing here knows what a record means.
"""
