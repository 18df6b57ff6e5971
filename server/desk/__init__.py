"""The desk's pages for people: signing in, the day, files carried by hand.

No script and no rule of the trade; what a page does is a task that a command can use too.
"""
