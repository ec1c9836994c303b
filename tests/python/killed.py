#!/usr/bin/env python3
# kill -9 at random moments, 1000 times or as many as the argument says: `new` leaves a whole job or
# none of it, `add` loses no reading that was acknowledged and writes no half line; two `add` at once
# on one job: both sets of readings are there. All data are invented.
import os, random, shutil, signal, subprocess, sys, tempfile, time

FW = os.path.abspath(os.environ.get('FLATWRIGHT', 'build/release/flatwright'))
TIMES = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
FILES = ['job.ini', 'readings.csv', 'sag.csv', 'work.csv']
rng = random.Random(7)


def run(*words, **more):
    return subprocess.run([FW, *words], capture_output=True, text=True, **more)


def rows(job):
    text = open(job + '/readings.csv', newline='').read()
    assert text.endswith('\n'), 'the last line has no end: %r' % text[-60:]
    return [l for l in text.split('\n')[:-1] if not l.startswith('#')][1:]


def kill_new(work, k):
    """The folder is there with all its files, or it is not there."""
    job = os.path.join(work, 'new%d' % k)
    p = subprocess.Popen([FW, 'new', job], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    time.sleep(rng.random() * 1.5 * USUAL)
    p.kill()
    p.communicate()
    there = os.listdir(job) if os.path.isdir(job) else []
    for name in there:
        assert open(os.path.join(job, name)).read() == WHOLE[name], '%s is half written' % name
    assert len(there) in (0, 4), there
    shutil.rmtree(job, ignore_errors=True)
    return len(there)


def kill_add(job, k):
    """Types readings as fast as they are taken, and kills in between; counts what was acknowledged."""
    before = rows(job)
    p = subprocess.Popen([FW, 'add', job], stdin=subprocess.PIPE, stderr=subprocess.PIPE,
                         stdout=subprocess.DEVNULL)
    angle = k % 3600 / 10
    lines = ['back'] * 8 + ['A B', '0', '%g' % angle] + ['sign'] + ['%.2f' % rng.uniform(-1, 1)
                                                                   for _ in range(9)]
    p.stdin.write(('\n'.join(lines) + '\n').encode())
    p.stdin.flush()
    said, until = b'', rng.randrange(9)
    while said.count(b' last ') < until:
        more = os.read(p.stderr.fileno(), 65536)
        if not more:
            break
        said += more
    time.sleep(rng.random() * 0.006)
    p.kill()
    # A prompt that names a last value acknowledges it, and every one before it in this scan.
    said = (said + p.communicate()[1]).decode()
    acknowledged = said.count(' last ')
    subprocess.run([FW, 'add', job], stdin=subprocess.DEVNULL, capture_output=True, check=True)
    after = rows(job)
    assert after[:len(before)] == before, 'earlier rows have changed'
    fresh = [float(r.split(',')[6]) for r in after[len(before):]]
    assert len(fresh) >= acknowledged, '%d readings, %d acknowledged' % (len(fresh), acknowledged)
    assert fresh == [float(v) for v in lines[12:12 + len(fresh)]], 'not what was typed'
    return len(fresh)


def two_at_once(work, k):
    job = os.path.join(work, 'two')
    shutil.rmtree(job, ignore_errors=True)
    run('new', job)
    talks = ['A B\n0\n0\n90\n9\nsign\n', 'B C\n0\n0\n90\n9\nsign\n']
    ps = [subprocess.Popen([FW, 'add', job], stdin=subprocess.PIPE, stderr=subprocess.DEVNULL,
                           stdout=subprocess.DEVNULL) for _ in talks]
    for p, talk in zip(ps, talks):
        p.stdin.write((talk + '\n'.join('%.2f' % (i / 10) for i in range(9)) + '\n').encode())
        p.stdin.flush()
    for p in ps:
        p.communicate()
        assert p.returncode == 0
    have = rows(job)
    assert len(have) == 18, '%d rows of 18' % len(have)
    for pair in ('1,A,B,', '1,B,C,'):
        mine = [r for r in have if r.startswith(pair)]
        assert [float(r.split(',')[6]) for r in mine] == [i / 10 for i in range(9)], mine
    assert run('check', job).returncode == 0
    assert sorted(os.listdir(job)) == FILES


def main():
    global WHOLE, USUAL
    work = tempfile.mkdtemp()
    try:
        job = os.path.join(work, 'job')
        run('new', job)
        WHOLE = {n: open(os.path.join(job, n)).read() for n in FILES}
        with open(job + '/readings.csv', 'a') as out:
            out.write('# stations: -80 -60 -40 -20 0 20 40 60 80\n')
        began = time.time()
        for k in range(5):
            run('new', os.path.join(work, 'usual%d' % k))
        USUAL = (time.time() - began) / 5
        laid = [kill_new(work, k) for k in range(TIMES)]
        added = 0
        for k in range(TIMES):
            if k % 40 == 0: # a job that stays small
                with open(job + '/readings.csv', 'w') as out:
                    out.write(WHOLE['readings.csv'] + '# stations: -80 -60 -40 -20 0 20 40 60 80\n')
            added += kill_add(job, k)
            if k % 40 == 39:
                assert run('check', job).returncode == 0
        for k in range(max(1, TIMES // 20)):
            two_at_once(work, k)
        print('new: %d laid, %d not; add: %d readings typed' % (laid.count(4), laid.count(0), added))
        print('3 passed, 0 failed')
    finally:
        shutil.rmtree(work)


main()
