"""The file of a logger as a test's log: its text as columns, and its rows as entries. Written once for both sides.

The emitter makes a module of it that a phone loads on demand. No file, clock or word is touched here.
"""
