"""The inbox: which exported files are finished, how they are read, and how they are put away.

listing   one full look at the folder: the truth
hints     file-system events: they only make us look sooner
settling  when is a file finished? (pure)
pairing   which PDF goes with which export (pure)
inbox     all of them together      taking  read a file safely, move it without ever losing one
"""

from gateway.watch.inbox import Inbox, InboxHealth
from gateway.watch.listing import Arrival
from gateway.watch.pairing import is_pdf
from gateway.watch.taking import Refusal, Refused, put_away, take

__all__ = ["Arrival", "Inbox", "InboxHealth", "Refusal", "Refused", "is_pdf", "put_away", "take"]
