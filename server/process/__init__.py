"""The running service: its process, where it answers, and how a command reaches it.

No route, no record and no rule of the trade is known here.
"""
