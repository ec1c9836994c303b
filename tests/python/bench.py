#!/usr/bin/env python3
# A set typed into `flatwright add` at a terminal, with slips, corrections, and a kill -9 in the
# middle of every prompt; it must end in the solution of the same set written straight into the file.
# All data are invented.
import json, math, os, pty, re, shutil, signal, subprocess, sys, tempfile

FW = os.path.abspath(os.environ.get('FLATWRIGHT', 'build/release/flatwright'))
STATIONS = [-90, -45, 0, 45, 90]
SCANS = [(b, t, turn, angle) for b, t, turn in (('A', 'B', 0), ('B', 'C', 0), ('C', 'A', 0),
                                                ('A', 'B', 45)) for angle in (0, 45)]
PROMPT = re.compile(r'(bottom and top|turn of the top|diameter|how far out|how many|a t, l r, u d|'
                    r'[-+0-9.]+ mm \(\d+ of \d+\)|the bands bow)[^\n]*: $')


def truth(scan, mm):
    """A smooth invented deviation in fringes, to two decimals as an eye reads it."""
    b, t, turn, angle = scan
    x = mm / 90
    h = {'A': 0.31, 'B': -0.12, 'C': 0.05}
    d = (h[b] + h[t]) * (1 - x * x) + 0.04 * math.sin(2.1 * x + math.radians(angle + turn))
    return '%.2f' % (d + 0.0)


def rows(job):
    """What readings.csv holds: {(scan, mm): value}."""
    found, lines = {}, open(job + '/readings.csv', newline='').read().split('\n')
    assert lines[-1] == '', 'the last line has no end'
    for line in lines[:-1]:
        if line.startswith('#') or line.startswith('round,'):
            continue
        f = line.split(',')
        assert len(f) == 7 and f[0] == '1', line
        key = (f[1], f[2], int(f[3]), int(f[4])), int(f[5])
        assert key not in found, 'twice: ' + line
        found[key] = float(f[6])
    return found


class Talk:
    """flatwright add at a terminal of its own."""

    def __init__(self, job, *more):
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ.update(TERM='dumb', LC_ALL='C')
            os.execv(FW, [FW, 'add', job, *more])
        self.said = ''

    def prompt(self):
        """All that is said up to the next prompt; None at the end."""
        text = ''
        while not PROMPT.search(text.replace('\r\n', '\n')):
            try:
                more = os.read(self.fd, 65536)
            except OSError:
                more = b''
            if not more: # the terminal is closed
                self.said += text
                return None
            text += more.decode('ascii')
        self.said += text
        self.heard = text.replace('\r\n', '\n')
        return self.heard.split('\n')[-1]

    def type(self, text):
        os.write(self.fd, text.encode())

    def kill(self):
        os.kill(self.pid, signal.SIGKILL)
        self.close()

    def close(self):
        status = os.waitpid(self.pid, 0)[1]
        os.close(self.fd)
        return status


class Person:
    """Knows the notebook, looks at the prompt, types the next line; slips now and then."""

    def __init__(self, job):
        self.job, self.slipped, self.pairing, self.angle = job, set(), None, None

    def missing(self):
        have = rows(self.job)
        return [s for s in SCANS if any((s, mm) not in have for mm in STATIONS)]

    def listen(self, heard):
        for pattern in (r'Unfinished: (\w) below, (\w) on\s+top, turn (\d+),\s+diameter (\d+)',
                        r'Going on with (\w) below, (\w) on\s+top, turn (\d+)'):
            m = re.search(pattern, heard)
            if m:
                g = m.groups()
                self.pairing = (g[0], g[1], int(g[2]))
                self.angle = int(g[3]) if len(g) > 3 else self.angle

    def answer(self, prompt):
        missing, have = self.missing(), rows(self.job)
        if not missing:
            wrong = [k for k, v in have.items() if v != float(truth(*k))]
            assert not wrong, wrong
            return 'stop'
        if prompt.startswith('bottom'):
            self.pairing = missing[0][:3]
            return '%s %s' % missing[0][:2]
        if prompt.startswith('turn'):
            return '%d' % self.pairing[2]
        if prompt.startswith('diameter'):
            mine = [s for s in missing if s[:3] == self.pairing]
            if not mine:
                return 'back'
            self.angle = mine[0][3]
            return '%d' % self.angle
        if prompt.startswith('how far'):
            return '90'
        if prompt.startswith('how many'):
            return '5'
        if prompt.startswith('a t'):
            return 't'
        if prompt.startswith('the bands'):
            return ''
        scan, mm = (*self.pairing, self.angle), int(prompt.split()[0])
        at = STATIONS.index(mm)
        if at > 0:
            before = (scan, STATIONS[at - 1])
            if before in have and have[before] != float(truth(*before)):
                return 'back'
        if mm == 45 and scan not in self.slipped:
            self.slipped.add(scan)
            return '-.7'
        value = float(truth(scan, mm))
        return '%.2f%s' % (abs(value), 't' if value >= 0 else 'a')


KINDS = {'bottom', 'turn', 'diameter,', 'how far', 'how many', 'a t,', 'mm', 'the bands'}


def type_set(job, killing):
    """Types the whole set; returns how often it was killed, and what was said."""
    person, killed, seen, kinds = Person(job), 0, set(), set()
    talk = Talk(job)
    while True:
        prompt = talk.prompt()
        if prompt is None:
            assert talk.close() == 0, talk.said
            assert not killing or kinds == KINDS, 'never killed at: %s' % (KINDS - kinds)
            return killed, talk.said
        person.listen(talk.heard)
        before = rows(job)
        line = person.answer(prompt)
        key = (prompt.split('[')[0].split(' last')[0], person.pairing, person.angle, line)
        if killing and key not in seen and line != 'stop':
            seen.add(key)
            kinds |= {k for k in KINDS if prompt.startswith(k) or (k == 'mm' and ' mm (' in prompt)}
            talk.type(line[:max(1, len(line) // 2)] if line else '0')
            talk.kill()
            killed += 1
            assert rows(job) == before, 'killed at %r: something was lost or made up' % prompt
            talk = Talk(job)
            continue
        talk.type(line + '\n')


def kill_before_writing(job):
    """A sheet shown back, killed in the middle of the answer, then answered with no, then with yes."""
    def files():
        return {name: open(os.path.join(job, name), 'rb').read() for name in sorted(os.listdir(job))
                if not name.startswith('.')}
    before = files()
    for answer, end in (('y', None), ('n\n', False), ('\n', False), ('y\n', True)):
        pid, fd = pty.fork()
        if pid == 0:
            os.environ.update(TERM='dumb', LC_ALL='C')
            os.execv(FW, [FW, 'add', job, '--from', 'tests/fault/sheet.csv'])
        said = b''
        while not said.endswith(b'y or n [n]: '):
            said += os.read(fd, 65536)
        os.write(fd, answer.encode())
        if end is None:
            os.kill(pid, signal.SIGKILL)
        try:
            while os.read(fd, 65536):
                pass
        except OSError:
            pass
        status = os.waitpid(pid, 0)[1]
        os.close(fd)
        assert end is None or status == 0, status
        assert (files() == before) == (not end), 'answered with %r' % answer
        assert os.listdir(job).count('readings.csv') == 1


def solution(job):
    text = subprocess.run([FW, 'solve', job, '--json'], check=True, capture_output=True).stdout
    solved = json.loads(text)
    for suspect in solved['suspects']:
        del suspect['line'] # lines differ by the comment that lists the stations
    return solved


def same(a, b, path=''):
    if isinstance(a, dict):
        assert a.keys() == b.keys(), path
        for k in a:
            same(a[k], b[k], path + '/' + k)
    elif isinstance(a, list):
        assert len(a) == len(b), path
        for i, (x, y) in enumerate(zip(a, b)):
            same(x, y, '%s/%d' % (path, i))
    elif isinstance(a, float) and isinstance(b, (int, float)):
        assert math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-9), '%s: %r %r' % (path, a, b)
    else:
        assert a == b, '%s: %r %r' % (path, a, b)


def main():
    signal.alarm(120) # a prompt that never comes is a failure
    work = tempfile.mkdtemp()
    try:
        jobs = [os.path.join(work, n) for n in ('straight', 'calm', 'killed')]
        for job in jobs:
            subprocess.run([FW, 'new', job], check=True, capture_output=True)
        with open(jobs[0] + '/readings.csv', 'a', newline='') as out:
            for s in SCANS:
                for mm in STATIONS:
                    out.write('1,%s,%s,%d,%d,%d,%s\n' % (*s, mm, truth(s, mm)))
        calm, said = type_set(jobs[1], False)
        assert calm == 0
        assert said.count('does not fit') >= len(SCANS) // 2, 'slips are not pointed out'
        killed, _ = type_set(jobs[2], True)
        assert killed > 60, killed
        same(solution(jobs[0]), solution(jobs[1]))
        same(solution(jobs[0]), solution(jobs[2]))
        assert sorted(os.listdir(jobs[2])) == ['job.ini', 'readings.csv', 'sag.csv', 'work.csv']
        sheet = os.path.join(work, 'sheet')
        shutil.copytree('examples/page', sheet)
        kill_before_writing(sheet)
        print('typed %d readings, killed %d times' % (len(SCANS) * len(STATIONS), killed))
        print('4 passed, 0 failed')
    finally:
        shutil.rmtree(work)


main()
