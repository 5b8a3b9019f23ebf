"""The one base of every failure a user can mend; its text is a single sentence that says how."""


class RackledgerError(Exception):
    """A failure with a way out. Stages subclass it, one class a kind of failure."""
