#!/usr/bin/env python3
# What takes longer than two seconds says so on a terminal, and nowhere else: a search for a measuring
# plan, its standard error once a terminal and once a pipe. Results are the same either way.
import os, pty, subprocess, tempfile

FW = os.path.abspath(os.environ.get('FLATWRIGHT', 'build/release/flatwright'))
# so coarse that no plan of any number of diameters is enough, which takes longest to find out
SEARCH = [FW, 'rehearse', 'examples/page', '--sigma', '8nm', '--json']
QUICK = [FW, 'solve', 'examples/page', '--json']
passed = failed = 0


def expect(what, ok):
    global passed, failed
    passed, failed = passed + bool(ok), failed + (not ok)
    if not ok:
        print('progress:', what)


def at_terminal(command):
    """Standard output, and what standard error showed as a terminal."""
    ours, theirs = pty.openpty()
    with tempfile.TemporaryFile() as out:
        process = subprocess.Popen(command, stdout=out, stderr=theirs)
        os.close(theirs)
        shown = b''
        while True:
            try:
                part = os.read(ours, 4096)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            shown += part
        status = process.wait()
        os.close(ours)
        out.seek(0)
        return status, out.read(), shown.decode()


status, out, shown = at_terminal(SEARCH)
expect('status %d' % status, status == 0)
lines = shown.split('\r')
expect('nothing said: %r' % shown[:200], any('looking for a plan' in line for line in lines))
expect('no seconds: %r' % shown[:200], any(line.rstrip().endswith(' s') for line in lines))
expect('wider than a terminal', all(len(line) < 80 for line in lines))
expect('a line is left: %r' % shown[-100:], shown.endswith('\r') and not lines[-2].strip())
expect('more than one line', '\n' not in shown)
piped = subprocess.run(SEARCH, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
expect('in a pipe: %r' % piped.stderr, piped.stderr == b'' and piped.returncode == 0)
expect('another result', piped.stdout == out)
status, out, shown = at_terminal(QUICK)
expect('a quick command: %r' % shown, status == 0 and shown == '')
print('%d passed, %d failed' % (passed, failed))
raise SystemExit(failed > 0)
