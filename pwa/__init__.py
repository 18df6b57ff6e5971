"""The phone page: plain ES modules, served as they are. No Python lives here; the folder is packaged for its files."""
