#!/usr/bin/env python3
# What is printed for others, read by others: the JSON of every command by Python's parser, pages and
# pictures by its XML parser. Text of the user's that looks like markup, or 10 kB of it, comes through
# as it is and changes nothing around it. A page of 10^5 readings is under 3 MB; how long it takes is
# measured in tests/bench. All data are invented.
import csv, json, os, subprocess, tempfile
import xml.etree.ElementTree as ElementTree
from tally import FW, finish, tell

HOSTILE = '<script>alert(1)</script> & &amp; <!-- \u2014 -->]]> "it\'s" \U0001f52d \u05e9\u05dc\u05d5\u05dd '
TITLES = {'plain': 'Plain trio', 'hostile': HOSTILE.strip(), 'long': (HOSTILE * 200)[:9000].strip()}
JSON = {'': 'solution', 'check': 'check', 'solve': 'solution', 'next': 'advice', 'track': 'track',
        'rehearse': 'rehearsal', 'export': 'solution', 'glasses': 'glasses', 'lights': 'lights'}
PAGE_BYTES = 3e6


def run(*words):
    done = subprocess.run([FW, *words], capture_output=True, env=dict(os.environ, LC_ALL='C', TZ='UTC'))
    tell(done.returncode == 0, '%s: status %d: %r' % (words[:3], done.returncode, done.stderr[:200]))
    return done.stdout.decode('utf-8')


def lay(job, title):
    """The example with that title, and as note and scan label of every reading as well."""
    os.mkdir(job)
    with open('examples/page/job.ini') as ini, open(job + '/job.ini', 'w', encoding='utf-8') as out:
        out.write(ini.read().replace('[set]\n', '[set]\ntitle = "%s"\n' % title.replace('"', '""'), 1))
    with open('examples/page/readings.csv') as old, \
            open(job + '/readings.csv', 'w', newline='', encoding='utf-8') as out:
        rows = [line.rstrip('\n').split(',') for line in old if not line.startswith('#')]
        csv.writer(out).writerows([rows[0] + ['note', 'scan']] +
                                  [row + [title, title[:400].strip()] for row in rows[1:]])


def check_json(job, title):
    for command, kind in JSON.items():
        words = ([command] if command else []) + ([job] if kind not in ('glasses', 'lights') else [])
        if command == 'rehearse':
            words += ['-p', 'A:B', '-d', '2', '-s', '5', '-u', '2nm']
        told = json.loads(run(*words, *(['--format', 'json'] if command == 'export' else ['--json'])))
        tell(told.get('format') == 'flatwright-%s/1' % kind, '%s: %r' % (command, told.get('format')))
        if 'title' in told:
            tell(told['title'] == title, '%s: another title: %r' % (command, told['title']))
    listed = run('--help').split('commands:\n')[1].split('\n\n')[0].split('\n')
    with_json = [line.split()[0] for line in listed if '--json' in run(line.split()[0], '--help')]
    tell(set(with_json) <= set(JSON), 'not tried: %s' % (set(with_json) - set(JSON)))


def tags(page):
    return [element.tag for element in page.iter()]


def check_page(job, title, plain):
    """Returns the tags of the page, which text must not change."""
    page = ElementTree.fromstring(run('report', job))
    space = page.tag[:-len('html')]
    heads = [''.join(h.itertext()).strip() for h in page.iter(space + 'h1')]
    tell(title in heads[0], 'the title is not the heading: %r' % heads)
    tell(title in ''.join(page.find(space + 'head/' + space + 'title').itertext()), 'nor the title')
    for name in run('report', job, '--list').split():
        ElementTree.fromstring(run('report', job, '--picture', name))
    if plain:
        tell(tags(page) == plain, 'text has changed what is around it')
    return tags(page)


def check_screens(job):
    for command in ('solve', 'next', 'track', 'check', ''):
        text = run(*([command] if command else []), job)
        tell(all(c == '\n' or c.isprintable() for c in text), command + ': controls')


def check_large(work):
    """10^5 readings on eight diameters."""
    job = os.path.join(work, 'large')
    os.mkdir(job)
    with open(job + '/job.ini', 'w') as out:
        out.write('[set]\nflats = A B C\ndiameter = 200 mm\n[readings]\nunit = nm\nsigma = 2\n')
    with open(job + '/readings.csv', 'w') as out:
        out.write('bottom,top,turn_deg,diameter_deg,position_mm,deviation\n')
        count = 0
        for pair in ('A,B,0', 'B,C,0', 'C,A,0', 'A,B,45', 'B,C,90', 'C,A,45'):
            for d in range(8):
                for i in range(-1042, 1043):
                    count += 1
                    noise = count * 7919 % 997 / 166 - 3
                    out.write('%s,%g,%.3f,%.2f\n' % (pair, 22.5 * d, i * 0.095,
                                                    30 - 60 * (i / 1042) ** 2 + noise))
    size = len(run('report', job).encode())
    tell(count > 100000 and size < PAGE_BYTES, '%d readings: a page of %d bytes' % (count, size))


def main():
    with tempfile.TemporaryDirectory() as work:
        plain = None
        for name, title in TITLES.items():
            job = os.path.join(work, name)
            lay(job, title)
            check_json(job, title)
            plain = check_page(job, title, plain)
            check_screens(job)
        tell(len(TITLES['long'].encode()) > 10000, 'a short one')
        check_large(work)
    finish()


main()
