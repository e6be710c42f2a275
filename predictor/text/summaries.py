"""Results as a person reads them: one summary for the terminal and notebooks, whatever the result."""

from __future__ import annotations

import html as markup
from functools import singledispatch


@singledispatch
def summary(result: object) -> str:
    """A result in plain words."""
    raise TypeError(f"There are no words for {type(result).__name__}.")


def html(result: object) -> str:
    """The same for a notebook."""
    return f"<pre>{markup.escape(summary(result))}</pre>"
