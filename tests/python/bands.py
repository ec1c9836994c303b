#!/usr/bin/env python3
# The bands that the page draws, point by point, against the formula: known surfaces are read without
# errors, and of every point of the picture it is told from the paths of the SVG whether it is dark.
# Dark is where the order N = 6 y / (2 R) - (h_bottom(r, t) + h_top(r, turn - t)) / (lambda / 2) is
# nearer to a whole number than a quarter: one band for each half wave (ISO 14999-4). Invented.
import math, os, subprocess, tempfile
import xml.etree.ElementTree as ElementTree
from shapes import inside, loops, SVG
from tally import FW, finish, tell

R, BANDS, HALF_WAVE = 90, 6, 546.074 / 2
PAIRS = [('A', 'B', 0), ('B', 'C', 0), ('C', 'A', 0), ('A', 'B', 50), ('B', 'C', 110)]
MIDDLE = 102, 138           # of the picture
NEAR = 0.05                 # of an edge: not told, the paths are polygons

# Heights in nm at rho = r / R and the flat's own angle: a sphere, a saddle, a coma and a trefoil.
HEIGHTS = {'A': lambda p, t: 330 * p * p,
           'B': lambda p, t: 210 * p * p * math.cos(2 * t) - 90 * p ** 4,
           'C': lambda p, t: 150 * (3 * p ** 3 - 2 * p) * math.sin(t) + 80 * p ** 3 * math.cos(3 * t)}


def both(bottom, top, turn, p, t, mirror=-1):
    return HEIGHTS[bottom](p, t) + HEIGHTS[top](p, math.radians(turn) + mirror * t)


def lay(job):
    os.mkdir(job)
    with open(job + '/job.ini', 'w') as out:
        out.write('[set]\nflats = A B C\ndiameter = 190 mm\nclear = 180 mm\n[light]\n'
                  'source = mercury-green\n[readings]\nunit = nm\nsigma = 0.05\nmodel = surface\n')
    with open(job + '/readings.csv', 'w') as out:
        out.write('bottom,top,turn_deg,diameter_deg,position_mm,deviation\n')
        for bottom, top, turn in PAIRS:
            for angle in range(0, 180, 20):
                for mm in range(-R, R + 1, 15):
                    t = math.radians(angle + (180 if mm < 0 else 0))
                    out.write('%s,%s,%d,%d,%d,%.4f\n' % (bottom, top, turn, angle, mm,
                                                       both(bottom, top, turn, abs(mm) / R, t)))


def level(bottom, top, turn, mirror):
    """Piston and tilts of the sum over the disc, by area: a midpoint rule."""
    sums, n = [0, 0, 0], 0
    for i in range(60):
        for j in range(72):
            p, t = math.sqrt((i + 0.5) / 60), math.radians(5 * j)
            h = both(bottom, top, turn, p, t, mirror)
            sums[0] += h
            sums[1] += 4 * h * p * math.cos(t)
            sums[2] += 4 * h * p * math.sin(t)
            n += 1
    return [s / n for s in sums]


def order(pair, plane, p, t, mirror=-1):
    h = both(*pair, p, t, mirror) - plane[0] - p * (plane[1] * math.cos(t) + plane[2] * math.sin(t))
    return BANDS * p * math.sin(t) / 2 - h / HALF_WAVE


def shapes(svg):
    """What is painted, in order: (polygons, None) or (None, radius), and its colour."""
    found = []
    for element in ElementTree.fromstring(svg).iter():
        fill = element.get('fill')
        if element.tag == SVG + 'path' and fill in ('#3d464d', '#f3f4f1'):
            found.append((loops(element.get('d')), None, fill))
        if element.tag == SVG + 'circle' and fill in ('#3d464d', '#f3f4f1'):
            found.append((None, float(element.get('r')), fill))
    return found


def is_dark(painted, x, y):
    colour = None
    for polygons, radius, fill in painted:
        if inside(polygons, x, y) if polygons else math.hypot(x - MIDDLE[0], y - MIDDLE[1]) < radius:
            colour = fill
    return colour == '#3d464d'


def check(job, pair):
    name = 'fringes-%s-%s-%d' % pair
    svg = subprocess.run([FW, 'report', job, '--picture', name], capture_output=True).stdout
    painted = shapes(svg)
    tell(len(painted) > BANDS, name + ': hardly anything is painted')
    rim = next((r for polygons, r, fill in painted if r), 0)
    plane, mirrored = level(*pair, -1), level(*pair, 1)
    wrong, dark, light, wrong_if_mirrored = [], 0, 0, 0
    for i in range(-16, 17):
        for j in range(-16, 17):
            x, y = i / 17, j / 17
            p, t = math.hypot(x, y), math.atan2(y, x)
            if p > 0.97:
                continue
            n = order(pair, plane, p, t)
            off = abs(n - round(n))
            if abs(off - 0.25) < NEAR:
                continue
            shown = is_dark(painted, MIDDLE[0] + rim * x, MIDDLE[1] - rim * y)
            dark, light = dark + (off < 0.25), light + (off > 0.25)
            if shown != (off < 0.25):
                wrong.append((x, y, n))
            m = order(pair, mirrored, p, t, 1)
            wrong_if_mirrored += shown != (abs(m - round(m)) < 0.25)
    tell(not wrong, '%s: %d of %d points, such as %r' % (name, len(wrong), dark + light, wrong[:3]))
    tell(dark > 150 and light > 150, '%s: %d dark, %d light' % (name, dark, light))
    if pair[:2] == ('B', 'C'):  # a picture seen from below would be told
        tell(wrong_if_mirrored > 100, name + ': mirrored it would be as good')


def main():
    with tempfile.TemporaryDirectory() as work:
        job = work + '/job'
        lay(job)
        for pair in PAIRS:
            check(job, pair)
    finish()


main()
