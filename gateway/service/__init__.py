"""The running service: builds the parts from settings, owns the clock, turns the loop.

opening     a service ready to work                     loop        the loop itself
parts       settings and mappings -> the parts          storing     the store alone, for quick commands
inbound     the inbox side                              sealing     signed heads of the audit log
checking    is everything as it should be               previewing  what a preview assumes without settings
lock        one gateway at a time on one state folder
presence    who we are among the nodes                  sharing     an inbox that other nodes watch too
shelves     the folders done and held                   notes       what lies beside held files
account     what one pass did                           moving      from SQLite to PostgreSQL
draining    all destinations side by side               lookout     what will soon stop one
reconciling the ledger beside the records               exporting   a table of results
notices     of withdrawals, for clinicians              standing    how far a withdrawal got
telling     the audit repository, in its own thread

Nothing is imported here, so that a quick command loads only the part it needs.
"""
