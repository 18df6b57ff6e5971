"""The store of several services: records and views as rows of one PostgreSQL database.

psycopg is used only in this room; nothing here knows what a record means.
"""
