"""Languages: which words a reader gets, and how numbers, dates and lists are written for them.

No sentence stands here; the words are data, in `sync/rulebook/words/`.
"""
