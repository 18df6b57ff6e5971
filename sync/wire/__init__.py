"""What crosses the border: op lines, bundles, shapes and their faults.

It may import the kernel; nothing here keeps a record or knows HTTP.
"""
