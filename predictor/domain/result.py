"""What all results have in common: codes and values inside, and sentences, pages and pictures made on demand."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from importlib import import_module
from typing import TYPE_CHECKING, Any, ClassVar

from predictor.errors import WrongKind
from predictor.unseen import visible

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Remark:
    """Something a result has to say: a code, and the values that its sentence needs.

    The code starts with the room of its sentence: "advice.lock" is worded in `SENTENCES` of `predictor.text.advice`.
    `str(remark)` gives the sentence. Nothing else looks for meaning in words.

    Attributes
    ----------
    code : str
    values : mapping of str to object
        Counts, fractions, weights in grams, names.

    Examples
    --------
    >>> str(Remark("advice.nothing-yet", {"setting": "30"}))
    'Nothing came at 30. Check gate and seed, then catch further open.'
    """

    code: str
    values: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def __getitem__(self, name: str) -> Any:
        return self.values[name]

    def __str__(self) -> str:
        return str(import_module("predictor.text.remarks").sentence(self))


class NanEqual:
    """A frozen record in which NaN equals NaN, so that it equals itself when it is read or unpickled again."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    def _values(self) -> tuple[object, ...]:
        values = (getattr(self, each.name) for each in fields(self) if each.compare)
        return tuple(None if value != value else value for value in values)

    def __eq__(self, other: object) -> bool:
        return self._values() == other._values() if isinstance(other, type(self)) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._values())


class Shown:
    """A result that can be printed, shown in a notebook and drawn.

    The words are made in `predictor.text`, the pictures in `predictor.plots`: rooms that import results. They are
    loaded only when one of these methods is called, so that results themselves depend on neither.
    """

    def __str__(self) -> str:
        return self.summary()

    def summary(self) -> str:
        """The result in plain words.

        Returns
        -------
        str
            Several lines.
        """
        return visible(str(import_module("predictor.text.summaries").summary(self)), lines=True)

    def _repr_html_(self) -> str:
        return str(import_module("predictor.text.summaries").html(self))

    def plot(self, axes: "Axes | None" = None) -> "Axes":
        """Draw the result.

        Parameters
        ----------
        axes : matplotlib Axes, optional
            Where to draw; a new figure where not given.

        Returns
        -------
        matplotlib Axes

        Raises
        ------
        InputError
            `axes` is something else.
        """
        if axes is not None and not hasattr(axes, "set_xlabel"):
            # not before: it loads numpy, and the help loads results
            from predictor.domain.arguments import refuse

            refuse("axes", "the Axes of matplotlib, or None", axes, WrongKind)
        drawn: Axes = import_module("predictor.plots.results").plot(self, axes)
        return drawn
