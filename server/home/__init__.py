"""Home: an address in the technician's own network that a phone can trust, made without any knowledge of certificates.

No record is kept here, and nothing of the form is served from here.
"""
