#!/usr/bin/env python3
# What the pictures of the page draw, against the numbers that are exported, the axes read as a person
# reads them: heights, bands of twice the uncertainty and the target's limits in the profiles; the
# colours of a face by its legend, one legend for all, its mark, bore and clear edge; the zone that is
# worked. On the examples and on a rehearsed set. Invented.
import csv, io, json, math, re, subprocess, tempfile
import xml.etree.ElementTree as ElementTree
from shapes import inside, loops, SVG
from tally import FW, finish, tell

PX = 0.12      # paths have a tenth of a pixel


def run(*words):
    return subprocess.run([FW, *words], capture_output=True, check=True).stdout.decode('utf-8')


def table(*words):
    return list(csv.DictReader(io.StringIO(run('export', *words, '--format', 'csv')
                                           if '--grid' not in words else run('export', *words))))


def number(text):
    """A label of an axis, or None."""
    text = text.replace('\u2212', '-')
    return float(text) if re.fullmatch(r'[-+]?\d+(\.\d+)?', text) else None


class Picture:
    def __init__(self, job, name):
        self.all = list(ElementTree.fromstring(run('report', job, '--picture', name)).iter())

    def those(self, tag, **attributes):
        return [e for e in self.all if e.tag == SVG + tag and
                all(e.get(k.replace('_', '-')) == v for k, v in attributes.items())]

    def labels(self, anchor):
        """(x, y, value) of the numbers that stand so."""
        found = [(float(e.get('x')), float(e.get('y')), number(e.text or ''))
                 for e in self.those('text', text_anchor=anchor)]
        return [f for f in found if f[2] is not None]


def axis(ticks):
    """From values to px by the first and the last of (px, value)."""
    (p0, v0), (p1, v1) = ticks[0], ticks[-1]
    for p, v in ticks:
        assert abs(p0 + (v - v0) * (p1 - p0) / (v1 - v0) - p) < PX, 'ticks are uneven'
    return lambda v: p0 + (v - v0) * (p1 - p0) / (v1 - v0)


def check_profile(job, flat, rows, target):
    picture, name = Picture(job, 'profile-' + flat), '%s %s: ' % (job, flat)
    angles = sorted({float(r['diameter_deg']) for r in rows})
    across = axis([(x, v) for x, y, v in picture.labels('middle')])
    down = picture.labels('end')
    starts = [k for k in range(len(down)) if k == 0 or down[k][2] < down[k - 1][2]] + [len(down)]
    dots = [(float(e.get('cx')), float(e.get('cy'))) for e in picture.those('circle', r='1.5')]
    bands = [[v for loop in loops(e.get('d')) for v in loop]
             for e in picture.those('path', fill='#cfdce3')]
    limits = picture.those('path', stroke='#8f3d08')
    tell(len(starts) - 1 == len(angles), name + 'not a strip for each diameter')
    for k, angle in enumerate(angles):
        up = axis([(y - 3.5, v) for x, y, v in down[starts[k]:starts[k + 1]]])
        points = [(float(r['position_mm']), float(r['height_nm']), float(r['u_nm'])) for r in rows
                  if float(r['diameter_deg']) == angle and r['height_nm']]
        mine, dots = dots[:len(points)], dots[len(points):]
        far = [p for (s, h, u), (x, y) in zip(points, mine)
               for p in [(s, h)] if abs(x - across(s)) > PX or abs(y - up(h)) > PX]
        tell(points and len(mine) == len(points) and not far, name + '%g deg: %r' % (angle, far[:2]))
        wants = [(across(s), up(h + side * 2 * u)) for s, h, u in points for side in (1, -1)]
        there = [v for band in bands for v in band]
        missing = [w for w in wants if not any(math.dist(w, v) < 2 * PX for v in there)]
        tell(not missing, name + '%g deg: the band misses %r' % (angle, missing[:2]))
        pair = [loops(e.get('d'))[0] for e in limits[2 * k:2 * k + 2]]
        gap = [abs(p[1] - q[1]) for p, q in zip(*pair)]
        tell(all(abs(g - abs(up(target) - up(0))) < 2 * PX for g in gap) and gap,
             name + '%g deg: limits %g px apart' % (angle, gap[0]))
    tell(not dots, name + 'dots that are no heights')


def check_face(job, flat, glass, rows, legends):
    picture, name = Picture(job, 'face-' + flat), '%s, face of %s: ' % (job, flat)
    boxes = [(float(e.get('x')), float(e.get('width')), e.get('fill'))
             for e in picture.those('rect', height='9')]
    value = axis([(v, x) for x, y, v in picture.labels('middle') if y > 320])
    legends.add(tuple((round(value(x), 6), fill) for x, w, fill in boxes))
    painted = [(loops(e.get('d')) if e.tag == SVG + 'path' else float(e.get('r')), e.get('fill'))
               for e in picture.all if e.get('fill') in [b[2] for b in boxes] and e.tag != SVG + 'rect']
    rim = painted[0][0]
    cx, cy = (float(picture.those('circle')[0].get(k)) for k in ('cx', 'cy'))
    scale = rim / (glass['clear'] / 2)
    wrong = tried = 0
    for r in rows[::2]:
        mm, t, h = float(r['r_mm']), math.radians(float(r['theta_deg'])), r['height_nm']
        edge = min((abs(float(h) - value(b[0])) for b in boxes), default=0) if h else 0
        if not h or edge < 0.06 * (value(boxes[1][0]) - value(boxes[0][0])) or \
                not 1.05 * glass['bore'] / 2 <= mm <= 0.98 * glass['clear'] / 2:
            continue
        x, y = cx + scale * mm * math.cos(t), cy - scale * mm * math.sin(t)
        shown = [fill for shape, fill in painted if isinstance(shape, float) or inside(shape, x, y)][-1]
        want = [fill for left, width, fill in boxes
                if value(left) <= float(h) < value(left + width)]
        tried += 1
        wrong += want != [shown]
    tell(tried > 60 and wrong == 0, name + '%d of %d places have another colour' % (wrong, tried))
    radii = sorted(float(e.get('r')) / scale for e in picture.those('circle'))
    for what in ('clear', 'diameter', 'bore'):
        mm = glass[what] / 2
        tell(mm == 0 or min(abs(r - mm) for r in radii) < 0.3, name + 'no %s: %r' % (what, radii))
    mark = [loops(e.get('d'))[0][0] for e in picture.those('path', fill='#20262b')]
    tell(any(abs(x - cx - scale * glass['diameter'] / 2) < 0.3 and abs(y - cy) < PX for x, y in mark),
         name + 'no mark at the right: %r' % mark)


def check_work(job, plan, glass):
    for work in plan:
        if work['method'] != 'ring':
            continue
        picture = Picture(job, 'work-%s-1' % work['flat'])
        circles = [(float(e.get('r')), e.get('fill'), e.get('stroke')) for e in picture.those('circle')]
        rim = max(r for r, fill, stroke in circles if stroke == '#20262b' and fill == 'none')
        zone = [r for r, fill, stroke in circles if stroke == '#8f3d08']
        scale = rim / (glass[work['flat']]['diameter'] / 2)
        want = [mm * scale for mm in (work['outer_mm'], work['inner_mm']) if mm > 0]
        tell(len(zone) == len(want) and all(abs(a - b) < 0.3 for a, b in zip(zone, want)),
             '%s: work on %s: zone %r, expected %r' % (job, work['flat'], zone, want))
        return 1
    return 0


def check(job, glass, target):
    rows, grid, legends = table(job), table(job, '--grid', 'polar'), set()
    names = run('report', job, '--list').split()
    for flat in glass:
        mine = [r for r in rows if r['flat'] == flat]
        state = max(int(r['state']) for r in mine)
        tell('profile-' + flat in names, '%s: no profile of %s' % (job, flat))
        check_profile(job, flat, [r for r in mine if int(r['state']) == state], target)
        if 'face-' + flat in names:
            check_face(job, flat, glass[flat], [r for r in grid if r['flat'] == flat], legends)
    tell(len(legends) < 2, job + ': %d legends' % len(legends))
    return len(legends), check_work(job, json.loads(run('next', job, '--json'))['work'], glass)


def rehearsed(job):
    """Bored flats with a clear edge, taken as surfaces."""
    run('new', job)
    with open(job + '/job.ini', 'w') as out:
        out.write('[set]\nflats = P Q R\ndiameter = 160 mm\nclear = 140 mm\nbore = 30 mm\n'
                  '[target]\nflatness = 25 nm\n')
    run('rehearse', job, '-p', 'P:Q', '-p', 'Q:R', '-p', 'R:P', '-p', 'P:Q:45', '-d', '4', '-s', '11',
        '-u', '1nm', '--seed', '5')


def main():
    def glass(diameter, clear, bores, names):
        return {n: {'diameter': diameter, 'clear': clear, 'bore': bores.get(n, bores.get('all', 0))}
                for n in names}
    with tempfile.TemporaryDirectory() as work:
        rehearsed(work + '/made')
        done = [check('examples/page', glass(200, 180, {}, 'ABC'), 10),
                check('examples/aurora', glass(200, 190, {'Birch': 30}, ['Ash', 'Birch', 'Cedar']), 10),
                check(work + '/made', glass(160, 140, {'all': 30}, 'PQR'), 25)]
    tell(sum(d[0] for d in done) == 2, 'faces are missing')
    finish('%d zones of work; ' % sum(d[1] for d in done))


main()
