"""Refrigerants and the ideal cycle from CoolProp, for the desk and for the builder of the tables.

It may import the kernel; no verdict of the kernel ever depends on it.
"""
