"""The disk: the only room that changes a file, so that what a crash can leave behind is decided in one place.

It may import the errors alone; nothing here knows what a file holds.
"""
