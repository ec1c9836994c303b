# shapes.py - what the tests of pictures share: paths as polygons, and what lies in them.
import re

SVG = '{http://www.w3.org/2000/svg}'


def loops(path):
    """The closed polygons of a path of M, L and Z."""
    return [[tuple(map(float, xy)) for xy in re.findall(r'(-?[\d.]+) (-?[\d.]+)', loop)]
            for loop in path.split('M') if loop]


def inside(polygons, x, y):
    """By the rule of odd and even, or of windings: the loops of a region do not overlap."""
    winding = 0
    for loop in polygons:
        for (x0, y0), (x1, y1) in zip(loop, loop[1:] + loop[:1]):
            if (y0 <= y) != (y1 <= y) and x < x0 + (y - y0) / (y1 - y0) * (x1 - x0):
                winding += 1 if y1 > y0 else -1
    return winding != 0
