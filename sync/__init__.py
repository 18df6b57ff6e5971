"""The trade: rules and records.

Here live the judgement of readings and the keeping of what was captured. Nothing here knows HTTP, a screen,
a page layout or a mail server.
"""
