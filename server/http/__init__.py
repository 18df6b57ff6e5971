"""HTTP for phones and commands: who is asking, how much they may send, which route answers, how errors are worded.

No rule of the trade and no record is kept here.
"""
