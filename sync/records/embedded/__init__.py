"""The store of one desk in one folder: a journal, and views in small files, with no server beside it."""
