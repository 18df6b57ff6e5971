"""The job sheet, its letter and the books as plain data: every word and number as a person will read it.

It may import kernel, physics and wire; nothing here keeps a record or draws a page.
"""
