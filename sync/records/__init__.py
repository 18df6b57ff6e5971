"""What the desk keeps: the journal, which is the truth, the views made from it, and the files beside it.

It may import wire and kernel; nothing here judges a visit or knows HTTP.
"""
