"""What any store of records is: the interface, and the notes that the desk itself appends.

It may import wire and kernel; nothing here keeps anything.
"""
