"""What a store of records is, whoever keeps them.

It may import wire and kernel; nothing here keeps anything.
"""
