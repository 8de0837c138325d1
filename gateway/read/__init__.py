"""Bytes of an export + source maps -> Recording, or a Hold that says what a person must mend.

claim     which map describes the file          text       bytes -> text, no byte dropped
delimited text -> facts and rows                extract    what every outer form becomes
values    cells -> numbers, dates, codes        moment     cells -> wall-clock times
zone      wall-clock times -> instants          readings, who, around, diary: the parts of a Recording
trial     every row and every doubt of a file that is held while it is read
"""

from gateway.read.recording import read
from gateway.read.trial import Trial, TriedRow, trial

__all__ = ["Trial", "TriedRow", "read", "trial"]
