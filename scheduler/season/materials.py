"""What has to be bought: sugar, flavours, jars, labels. It decides no plan, only what the sheet "To buy" says."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Material:
    """Something that is bought, in whole numbers of a unit."""

    name: str
    unit: str = ""
    there: int = 0  # when the plan begins
    arrives_days: int = 0  # calendar days from ordering to having it
    comes_in: int = 1  # what is ordered is a multiple of this


@dataclass(frozen=True, slots=True)
class Use:
    """How much of a material each batch of a design takes, or each pack of a product; neither named: any batch."""

    material: str
    amount: int
    design: str = ""
    product: str = ""
