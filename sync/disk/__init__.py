"""The disk: the only room that changes files, so that what a crash can leave behind is decided in one place.

It may import only the errors; nothing here knows what the files hold.
"""
