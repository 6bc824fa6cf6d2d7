"""All errors a user can cause.

ReadbackError
├── InputError        a file, a text or an option the user gave
├── GrammarError      a grammar, lexicon, rules or drill file
├── AudioError        a recording that cannot be used
└── RecogniserError   an engine that cannot work or broke
    └── RecogniserBroke   on one transmission: the next is heard
"""


class ReadbackError(Exception):
    """Base of them all: caught once, where the user is told.

    Args:
        what: What is wrong, in one sentence, naming the input.
        remedy: What the user can do about it, in one sentence.
    """

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(f"{what} {remedy}")
        self.what = what
        self.remedy = remedy

    def __reduce__(self) -> tuple[type["ReadbackError"], tuple[str, str]]:
        # Exceptions with two arguments do not survive the pickling between processes otherwise.
        return (type(self), (self.what, self.remedy))


class InputError(ReadbackError):
    """A file, a text or an option the user gave."""


class GrammarError(ReadbackError):
    """A grammar, lexicon, rules or drill file with a mistake in it."""


class AudioError(ReadbackError):
    """A recording that cannot be read or holds nothing to judge."""


class RecogniserError(ReadbackError):
    """An engine that cannot work on this machine, or that broke."""


class RecogniserBroke(RecogniserError):  # noqa: N818 -- "the recogniser broke" is how it is told
    """An engine that broke on one transmission: it is started anew and hears the next."""
