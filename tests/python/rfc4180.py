#!/usr/bin/env python3
# RFC 4180 both ways, by another reader and writer: Python's csv. What `add` and `export` write, csv
# reads; what csv writes in its dialects, the program reads. Fixed seed; all data are invented.
import csv, io, json, os, random, shutil, subprocess, tempfile

FW = os.path.abspath(os.environ.get('FLATWRIGHT', 'build/release/flatwright'))
INI = '[set]\nflats = A B C\ndiameter = 200 mm\n'
HEAD = ['bottom', 'top', 'turn_deg', 'diameter_deg', 'position_mm', 'deviation', 'scan', 'note']
TEXTS = ['', 'plain', 'a, b', 'say "so"', 'two\nlines', 'semi;colon', ' blanks ', '"', '""',
         'caf\u00e9', "o'clock", '=1+1', 'tab\there', 'cr\r\nlf']
rng = random.Random(4180)


def rows(n, texts):
    return [[*rng.choice(['AB', 'BC', 'CA']), '0', str(rng.choice([0, 22.5, 45])),
             str(rng.randrange(-95, 96)), repr(round(rng.uniform(-50, 50), 3)),
             rng.choice(texts), rng.choice(texts)] for _ in range(n)]


def write(path, header, body, **dialect):
    with open(path, 'w', newline='', encoding='utf-8') as out:
        csv.writer(out, **dialect).writerows([header] + body)


def laid(work, name, header):
    job = os.path.join(work, name)
    os.mkdir(job)
    with open(job + '/job.ini', 'w') as out:
        out.write(INI)
    write(job + '/readings.csv', header, [])
    return job


def run(*words):
    done = subprocess.run([FW, *words], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def read(path, delimiter=','):
    with open(path, newline='', encoding='utf-8') as source:
        return list(csv.DictReader(source, strict=True, delimiter=delimiter))


def same(written, want):
    """Texts as they were but for outer blanks, numbers by value; what is twice stands once."""
    def key(r):
        return (r['bottom'], r['top'], *(float(r[k].replace(',', '.')) for k in HEAD[2:6]),
                r['scan'].strip(' \t'), r['note'].strip(' \t'))
    assert sorted(map(key, written)) == sorted(map(key, want))


def main():
    work = tempfile.mkdtemp()
    dialects = [dict(), dict(quoting=csv.QUOTE_ALL), dict(delimiter=';'),
                dict(delimiter='\t', quoting=csv.QUOTE_ALL),
                dict(lineterminator='\n', quoting=csv.QUOTE_NONNUMERIC)]
    passed = 0
    try:
        for k, dialect in enumerate(dialects):
            texts = TEXTS if dialect.get('delimiter') != '\t' else [t for t in TEXTS if '\t' not in t]
            body = rows(200, texts)
            for i, r in enumerate(body): # no two alike, and none that only looks twice
                r[4] = str(-95 + i * 0.95)
            path = os.path.join(work, 'in%d.csv' % k)
            write(path, HEAD, body, **dialect)
            for separator in ',;':
                header = rng.sample(HEAD, len(HEAD))
                job = laid(work, 'job%d%s' % (k, 'cs'[separator == ';']), header)
                write(job + '/readings.csv', header, [], delimiter=separator)
                run('add', job, '--from', path, '--yes')
                same(read(job + '/readings.csv', separator), [dict(zip(HEAD, r)) for r in body])
                counted = json.loads(run('check', job, '--json'))
                assert counted['readings'] == 200
                passed += 1
        table = list(csv.DictReader(io.StringIO(run('export', 'examples/aurora')), strict=True))
        solved = json.loads(run('solve', 'examples/aurora', '--json'))
        points = [(f['name'], d['angle_deg'], p['position_mm'], p['height_nm'], p['u_nm'])
                  for f in solved['flats'] for d in f['diameters'] for p in d['points']]
        got = [(r['flat'], float(r['diameter_deg']), float(r['position_mm']),
                float(r['height_nm']) if r['height_nm'] else None,
                float(r['u_nm']) if r['u_nm'] else None) for r in table]
        assert len(points) > 50 and got == points
        print('%d passed, 0 failed' % (passed + 1))
    finally:
        shutil.rmtree(work)


main()
