"""An unknown export -> a proposed source map, every guess marked for a person to confirm.

origin    which kind of file, and where its readings stand: one table whatever the form
encoding  bytes -> text; sheets: workbooks      table    delimiter, header row, columns by their words
widths    columns of fixed width                branches lists of XML (in_xml) and JSON (in_json), by their paths
naming    a date in the file's name
moments   patterns, and what the whole file proves     times    where the time of a reading stands
numbers   decimal mark, unit, marks             codes    columns of words
facts     what stands above the table           guess    what a draft is made of, and TOML
proposal  the steps in order                    words    the words by which things are known (words.toml)

A draft never reads files by itself: it says `draft = true`, and a map that says so claims no file.
"""

from gateway.drafting.guess import Draft, Guess, NoDraft
from gateway.drafting.proposal import propose
from gateway.drafting.words import Words

__all__ = ["Draft", "Guess", "NoDraft", "Words", "propose"]
