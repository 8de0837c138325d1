"""Meaning of the declarative files in `mappings/` and in the site's folder.

Each file is TOML; `parse` turns its bytes into a frozen model or raises MappingError with every fault at once.
Reading the files from disk is the business of `gateway.settings.maps`.
"""
