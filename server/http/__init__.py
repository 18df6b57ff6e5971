"""HTTP for phones and commands: who asks, how much they may send, which route answers, and how an error is said.

No rule of the trade and no record is kept here.
"""
