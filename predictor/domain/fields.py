"""The fields that a job plants."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Field:
    """A field to be planted.

    Attributes
    ----------
    name : str
    area_m2 : float
        Square metres, > 0.
    """

    name: str
    area_m2: float

    def __post_init__(self) -> None:
        if not 0 < self.area_m2 < float("inf"):
            raise ValueError(f"The area of a field is above 0; got {self.area_m2} for {self.name}.")
