"""The trade: rules and records.

The judgement of readings and the storage of what was captured live here. Nothing here knows HTTP, a screen, a page
layout or a mail server.
"""
