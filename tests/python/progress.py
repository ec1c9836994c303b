#!/usr/bin/env python3
# What takes longer than two seconds says so on a terminal, and nowhere else: every command that works
# on a job, so slow that it takes some seconds (its requests for memory are, see tests/fault/memory.c),
# its standard error once a terminal and once a pipe. Results are the same either way.
import concurrent.futures, os, pty, shutil, subprocess, tempfile, time
from tally import FW, finish, tell

SLOW = os.path.join(os.path.dirname(FW), 'tests/fault/memory.so')
JOB = 'examples/aurora'
PLAN = ['-p', 'Ash:Birch', '-p', 'Birch:Cedar', '-p', 'Cedar:Ash', '-d', '1', '-s', '3', '-u', '2nm']
COMMANDS = ([JOB], ['check', JOB], ['solve', JOB], ['solve', JOB, '--budget'], ['next', JOB],
            ['track', JOB], ['export', JOB], ['export', JOB, '--grid', 'xy'], ['report', JOB],
            ['report', JOB, '-o', 'NEW'], ['rehearse', JOB, *PLAN],
            ['rehearse', JOB, *PLAN, '--seed', '1', '-o', 'NEW'],
            ['add', 'COPY', '--from', 'tests/fault/sheet.csv', '--yes'])
LASTS = 7       # seconds that a command is made to take
SILENT = 3.5    # the longest without a word: two seconds, and a slow machine


def environment(**more):
    return dict(os.environ, LC_ALL='C', TZ='UTC', OPENBLAS_NUM_THREADS='1',
                ASAN_OPTIONS='verify_asan_link_order=0', **more)


def at_terminal(command, env):
    """Status, standard output, what standard error showed as a terminal, the longest silence in s."""
    ours, theirs = pty.openpty()
    with tempfile.TemporaryFile() as out:
        process = subprocess.Popen(command, stdout=out, stderr=theirs, env=env,
                                   stdin=subprocess.DEVNULL)
        os.close(theirs)
        shown, last, silent = b'', time.monotonic(), 0
        while True:
            try:
                part = os.read(ours, 4096)
            except OSError:  # the other end is closed
                part = b''
            silent, last = max(silent, time.monotonic() - last), time.monotonic()
            if not part:
                break
            shown += part
        status = process.wait()
        os.close(ours)
        out.seek(0)
        return status, out.read(), shown.decode(), silent


def place(command, work, name):
    """The command with folders of its own."""
    places = {'NEW': os.path.join(work, name), 'COPY': os.path.join(work, name, 'job')}
    if 'COPY' in command:
        shutil.copytree('examples/page', places['COPY'])
    return [FW] + [places.get(word, word) for word in command]


def try_slow(command, work, number):
    """Counts what it asks for, then lets it take so long; once more in a pipe, fast."""
    listed = os.path.join(work, 'list%d' % number)
    subprocess.run(place(command, work, 'count%d' % number), stdout=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL,
                   env=environment(LD_PRELOAD=SLOW, FAULT_LIST=listed, FAULT_DENSE='1000000000'))
    requests = int(subprocess.check_output(['tail', '-n', '1', listed]))
    slow = at_terminal(place(command, work, 'slow%d' % number),
                       environment(LD_PRELOAD=SLOW, FAULT_SLOW=str(LASTS * 1000000 // requests)))
    piped = subprocess.run(place(command, work, 'fast%d' % number), capture_output=True,
                           stdin=subprocess.DEVNULL, env=environment())
    return slow, piped


def check(command, slow, piped):
    status, out, shown, silent = slow
    name = ' '.join(command)
    lines = [l for l in shown.replace('\r\n', '\n').split('\r')]
    ticks = [l for l in lines if l.rstrip().endswith(' s')]
    tell(status == 0, '%s: status %d: %r' % (name, status, shown[-200:]))
    tell(len(ticks) >= 2, '%s: nothing said: %r' % (name, shown[:200]))
    tell(silent < SILENT, '%s: silent for %.1f s: %r' % (name, silent, [l.strip() for l in ticks]))
    tell(all(int(l.split()[-2]) >= 2 for l in ticks), '%s: before two seconds: %r' % (name, ticks))
    tell(all(len(l) < 80 for l in ticks), '%s: wider than a terminal' % name)
    after = shown[shown.rindex(ticks[-1]) + len(ticks[-1]):] if ticks else ''
    tell(after.startswith('\r' + ' ' * 79 + '\r'), '%s: a line is left: %r' % (name, after))
    said = piped.stderr.decode()
    tell('\r' not in said and piped.returncode == 0, '%s: in a pipe: %r' % (name, said))
    if 'NEW' not in command and 'COPY' not in command:
        tell(piped.stdout == out, name + ': another result')


def main():
    work = tempfile.mkdtemp()
    try:
        # they sleep, mostly; processes, for a thread that starts a program holds up all others
        with concurrent.futures.ProcessPoolExecutor(len(COMMANDS)) as pool:
            tried = [pool.submit(try_slow, c, work, i) for i, c in enumerate(COMMANDS)]
            for command, one in zip(COMMANDS, tried):
                check(command, *one.result())
        status, out, shown, silent = at_terminal([FW, 'solve', 'examples/page', '--json'],
                                                 environment())
        tell(status == 0 and shown == '', 'a quick command: %r' % shown)
    finally:
        shutil.rmtree(work)
    finish()


main()
