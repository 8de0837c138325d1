"""Ambulatory blood-pressure gateway: from an exported recording to a result in the record.

The package in flow order; `gateway/pipeline.py` is the place to start reading.

    watch     a settled file in the inbox becomes an Arrival
    store     the original is kept before anything else happens
    read      bytes + source map -> Recording
    periods   awake, asleep and 24 hours: where they begin and end
    validate  Recording -> Findings, judged readings, adequacy, or a Hold
    analyse   judged readings -> Summary against a published guideline
    report    Summary + Recording -> one-page PDF
    fhir      Recording + Summary + report -> checked FHIR R4 resources -> requests
    deliver   person look-up and writing to each record server
    audit     every step in a tamper-evident chain
    cohort    results of many recordings as one table

`model` holds the words they all share, `mapping` the meaning of the declarative files, `drafting` proposes such a
file for an unknown export, `settings` is what IT wrote.
"""
