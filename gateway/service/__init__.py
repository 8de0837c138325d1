"""The running service: builds the parts from settings, owns the clock, turns the loop.

opening     a service ready to work                     loop        the loop itself
parts       settings and mappings -> the parts          storing     the store alone, for quick commands
inbound     the inbox side                              sealing     signed heads of the audit log
checking    is everything as it should be               previewing  what a preview assumes without settings
lock        one gateway at a time on one state folder

Nothing is imported here, so that a quick command loads only the part it needs.
"""
