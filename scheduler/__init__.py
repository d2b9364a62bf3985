"""rockrota: the season planner of a small picture-candy kitchen."""

__version__ = "0.1.0"
