"""The fields that a job plants."""

from dataclasses import dataclass

from predictor.domain.arguments import POSITIVE, number, seen, text_of


@dataclass(frozen=True)
class Field:
    """A field to be planted.

    Attributes
    ----------
    name : str
    area_m2 : float
        Square metres, > 0.

    Raises
    ------
    InputError
        The area is not above 0.
    """

    name: str
    area_m2: float

    def __post_init__(self) -> None:
        seen(text_of(self.name, "name"), "name")
        object.__setattr__(self, "area_m2", number(self.area_m2, "area_m2", POSITIVE))
