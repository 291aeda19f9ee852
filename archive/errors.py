"""One tree of errors. Each carries the words a person reads, what to do next, an exit code and an HTTP status.

The command line prints `message` and `remedy` and exits with `exit_code`; the web shows the same words with `status`.
Messages never hold a person's name or a quoted word: they reach logs and error pages.
"""

from __future__ import annotations


class ToldHereError(Exception):
    """Base of everything that a person can be told about. `message`: what happened; `remedy`: what to do next."""

    exit_code = 1
    status = 400
    default_remedy = ""

    def __init__(self, message: str, remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy or self.default_remedy


class BadInput(ToldHereError):
    """What was given cannot be understood; nothing was changed."""

    exit_code = 2


class SheetError(BadInput):
    """A sheet (CSV) has faults. `findings`: one line each, with file, row and what to do."""

    default_remedy = "Nothing of this sheet was taken. Mend the rows named above and read it again."

    def __init__(self, message: str, findings: tuple[str, ...] = (), remedy: str = "") -> None:
        super().__init__(message, remedy)
        self.findings = findings


class NotFound(ToldHereError):
    """No such thing, or none that this viewer may know of: the words are the same on purpose."""

    exit_code = 3
    status = 404


class NotAllowed(ToldHereError):
    """The role of the person asking does not allow this act."""

    exit_code = 4
    status = 403


class Refused(ToldHereError):
    """Consent or a rule of the house says no. `reasons`: every reason, in sentences."""

    exit_code = 5
    status = 403

    def __init__(self, message: str, reasons: tuple[str, ...] = (), remedy: str = "") -> None:
        super().__init__(message, remedy)
        self.reasons = reasons


class NotFaithful(Refused):
    """A quote differs from its transcript. `differing`: the words that do not stand there."""

    exit_code = 5
    status = 409

    def __init__(self, message: str, differing: tuple[str, ...] = (), remedy: str = "") -> None:
        super().__init__(message, differing, remedy)
        self.differing = differing


class ScanRefused(Refused):
    """A finished file holds what must not leave (a name to be hidden, a leftover in its metadata, words that
    the captions do not have). `excerpts`: codes of those it is about, where it is known."""

    default_remedy = "Nothing was given. Decide the names in question on the recording's page, then export again."

    def __init__(self, message: str, reasons: tuple[str, ...] = (), remedy: str = "", excerpts: tuple[str, ...] = ()) -> None:
        super().__init__(message, reasons, remedy)
        self.excerpts = excerpts


class ConsentMoved(ToldHereError):
    """Consent changed while an export was being made; nothing was given."""

    exit_code = 6
    status = 409
    default_remedy = "Nothing left the archive. Start the export again: it will be decided anew."


class Clash(ToldHereError):
    """It would contradict what is already on record (same code twice, changed meanwhile)."""

    exit_code = 6
    status = 409


class BadMedia(ToldHereError):
    """A file that cannot be taken: damaged, no sound, not sound, or over the limits. Others go on."""

    exit_code = 7
    status = 415

    def __init__(self, code: str, message: str, remedy: str = "") -> None:
        super().__init__(message, remedy)
        self.code = code


class ModelMissing(ToldHereError):
    """No speech model is here. Everything but transcribing still works."""

    exit_code = 8
    status = 503
    default_remedy = (
        "Install one with `pip install 'toldhere[speech-base]'`, name a folder with `toldhere models add NAME FOLDER`, "
        "or fetch one with `toldhere models fetch NAME`. Everything else works without it."
    )


class NoSpace(ToldHereError):
    """The disk is full. What was complete is kept; no half file is left."""

    exit_code = 9
    status = 507
    default_remedy = "Make room on the archive's disk, then do the same again: it goes on where it stopped."


class LeaseLost(ToldHereError):
    """Another worker took this job over; this one must not write any more."""

    exit_code = 10


class NotThere(ToldHereError):
    """A disk or a share that work needs is not connected, or not to be written to; the work waits, and nothing is lost."""

    exit_code = 12
    status = 409


class Broken(ToldHereError):
    """The archive itself is not as it should be (schema, checksum, audit chain)."""

    exit_code = 11
    status = 500


class Busy(Broken):
    """Another program holds the database longer than one waits for it; nothing was changed."""

    status = 503
    default_remedy = "Try again in a moment."


class Erasing(Busy):
    """Something is being erased: until it is done the archive is closed to everybody else."""

    default_remedy = "It opens again by itself. Should the computer have been switched off meanwhile: whatever opens the archive next goes on."
