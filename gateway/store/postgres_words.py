"""What PostgreSQL reports, in plain words. Codes: PostgreSQL documentation, appendix A; row content never."""

from gateway.errors import StoreError, StoreUnavailable

_AWAY = "the database cannot be reached"


class Interrupted(StoreUnavailable):
    """The connection broke off, or another transaction was in the way: the same transaction can be run again."""


_RETRIED = {
    "40001": "another transaction was in the way",
    "40P01": "another transaction was in the way",
    "08": "the connection to the database broke off",
    "57P01": "the database is being stopped",
    "57P02": "the database broke down and starts again",
    "57P03": "the database is starting",
    "25P03": "the database ended a transaction that stood still for too long",
    "25006": "the database takes no changes at the moment (is it a standby?)",
}
_PASSING = {
    "55P03": "another node kept it locked for too long",
    "57014": "the database was too slow",
    "53100": "the disk of the database is full",
    "53200": "the database has no memory left",
    "53300": "the database has no connection left; raise its max_connections",
    "53": "the database has not enough resources",
    "58": "the disk of the database reports an error",
}
_LASTING = {
    "28": "the database does not let this user in; look at user, password_file and pg_hba.conf",
    "3D000": "there is no such database; create it first",
    "42501": "this user may not do that in the database; make it the owner of the database",
    "XX001": "the database is damaged; restore it from a back-up",
    "XX002": "the database is damaged; restore it from a back-up",
}
_BEFORE_A_CODE = {
    "password authentication failed": _LASTING["28"],
    "no pg_hba.conf entry": _LASTING["28"],
    "no password supplied": _LASTING["28"],
    "does not exist": "the database has no such user or database; create it first",
    "certificate verify failed": "the database's certificate is not vouched for by ca_file",
    "does not match host name": "the database's certificate is for another host name",
    "does not support SSL": "the database offers no TLS, which is needed from another machine",
    "root certificate file": "ca_file cannot be read",
}
"""Faults while connecting come as text without a code."""


def in_words(fault: BaseException) -> StoreError:
    """The fault as our own error: Interrupted or StoreUnavailable where the same work can succeed later."""
    code = getattr(fault, "sqlstate", None)
    if code is None:
        return _without_code(fault)
    for kind, words in ((Interrupted, _RETRIED), (StoreUnavailable, _PASSING), (StoreError, _LASTING)):
        if (said := words.get(code) or words.get(code[:2])) is not None:
            return kind(f"The store cannot be used: {said}.")
    return StoreError(f"The store cannot be used: the database reports {code}; its own log says more.")


def _without_code(fault: BaseException) -> StoreError:
    told = str(fault)
    for sign, words in _BEFORE_A_CODE.items():
        if sign in told:
            return StoreError(f"The store cannot be used: {words}.")
    if type(fault).__name__ in ("DataError", "ProgrammingError", "NotSupportedError"):
        return StoreError("The store cannot be used: a value cannot be kept by the database.")
    return Interrupted(f"The store cannot be used: {_AWAY}.")
