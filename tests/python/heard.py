#!/usr/bin/env python3
# Screens, prompts, messages and pages by ear: nothing is said by a drawing, a colour or a place alone. Screens
# fit 80 columns; NO_COLOR and pipes get no escapes; --words draws nothing and leaves no sentence out;
# colours add nothing to the words. Of the page every picture has a name and a description, every table
# a caption and named rows, and headings go down one step at a time. All data are invented.
import html.parser, os, pty, re, shutil, subprocess, tempfile, fcntl, struct, termios
from tally import FW, finish, tell

ESCAPE = re.compile(r'\x1b\[[0-9;]*m')
SCREENS = ([], ['solve'], ['solve', '--budget'], ['next'], ['track'], ['check'])
# What is typed is not echoed here, so that prompts stand one behind the other.
PROMPTS = re.compile(r'^((bottom and top|turn of the top|diameter, deg|how far|how many|a t, l r|'
                     r'[-+0-9.]+ mm \(\d+ of \d+\))[^:\n]*: |the bands bow: [^\n]*?\[Enter\]: )+')


def piped(*arguments, typed='', **more):
    env = dict(os.environ, LC_ALL='C', TZ='UTC', **more)
    done = subprocess.run([FW, *arguments], input=typed, capture_output=True, text=True, env=env)
    return done.stdout + done.stderr


def at_terminal(*arguments, typed='', of='both', **more):
    """What a terminal of 80 columns shows that knows UTF-8 and colours; of='stderr': of that alone."""
    pid, fd = pty.fork()
    if pid == 0:
        if of == 'stderr':
            os.dup2(os.open('/dev/null', os.O_WRONLY), 1)
        os.environ.update({'TERM': 'xterm', 'LC_ALL': 'C.UTF-8', 'TZ': 'UTC', **more})
        os.execv(FW, [FW, *arguments])
    fcntl.ioctl(fd, termios.TIOCSWINSZ, struct.pack('HHHH', 50, 80, 0, 0))
    flags = termios.tcgetattr(fd)
    flags[3] &= ~termios.ECHO
    termios.tcsetattr(fd, termios.TCSANOW, flags)
    said = b''
    os.write(fd, typed.encode())
    while True:
        try:
            more_said = os.read(fd, 65536)
        except OSError:
            break
        if not more_said:
            break
        said += more_said
    os.waitpid(pid, 0)
    os.close(fd)
    return said.decode('utf-8').replace('\r\n', '\n')


def words(text):
    """The sentences of a screen in their order; drawings, their axes and legends, and tables left out."""
    kept = [line for line in text.split('\n')
            if not re.search(r'[|│┃┤├]|^ +[mn]m  |\S {2,}\S.* {2,}\S', line)]
    return re.sub(r'Height over position.*? nm\. ', '', ' '.join(' '.join(kept).split()))


def check_screen(name, job, command):
    plain = piped(*command, job)
    spoken = piped(*command, job, '--words') if command != ['check'] else plain
    for text, what in ((plain, 'in a pipe'), (spoken, 'in words')):
        tell('\x1b' not in text and text.isascii(), '%s %s: escapes' % (name, what))
        wide = [line for line in text.split('\n') if len(line) > 80]
        tell(not wide, '%s %s: wider than 80: %r' % (name, what, wide[:1]))
    tell(not re.search(r'[|*#=_]{2}|^ *\|', spoken, re.M), '%s: drawn in words' % name)
    missing = [s for s in re.split(r'(?<=[.:;]) ', words(plain)) if s not in words(spoken)]
    tell(not missing, '%s: not said in words: %r' % (name, missing[:1]))
    coloured = at_terminal(*command, job)
    tell(max(len(ESCAPE.sub('', line)) for line in coloured.split('\n')) <= 80,
         '%s: wider than a terminal' % name)
    quiet = at_terminal(*command, job, NO_COLOR='1')
    tell('\x1b' not in quiet, '%s: escapes in spite of NO_COLOR' % name)
    tell(ESCAPE.sub('', coloured) == quiet, '%s: the colours say something' % name)


def check_bench(work):
    lines = ['A B', '0', '0', '90', '5', 't', '0.1', '3/20', '.2', 'x', '0.9', '?', 'list', 'back',
             '.1', 'skip', '', 'stop']
    for spoken in (False, True):
        job = os.path.join(work, 'spoken' if spoken else 'drawn')
        piped('new', job)
        said = at_terminal('add', job, *(['--words'] if spoken else []),
                           typed='\n'.join(lines) + '\n', NO_COLOR='1')
        name = 'add in words' if spoken else 'add'
        tell('\x1b' not in said, name + ': escapes in spite of NO_COLOR')
        wide = [l for l in said.split('\n') if len(PROMPTS.sub('', l)) > 80]
        tell(not wide, '%s: wider than 80: %r' % (name, wide[:1]))
        drawn = [l for l in said.split('\n') if re.search(r'\|.*\*|-{9}|[│┃]', l)]
        tell(bool(drawn) != spoken, '%s: %d lines are drawn' % (name, len(drawn)))
        flat = ' '.join(said.split())
        for part in ('press lightly on the middle', 'Where a band bows to that side the glass is '
                     'high', '+ toward you, - away from you', 'is no reading', 'does not fit',
                     'of 5 places'):
            tell(part in flat, '%s does not say %r' % (name, part))


def check_messages(work):
    """A message is one line in a pipe; a terminal gets the same words, no line wider than it is."""
    page, fresh = 'examples/page', os.path.join(work, 'fresh')
    bad = os.path.join(work, 'bad')
    piped('new', fresh)
    piped('new', bad)
    with open(bad + '/job.ini', 'a') as out:
        out.write('[bench]\nglas = fused-silika\n')
    with open(bad + '/readings.csv', 'a') as out:
        out.write('A,B,0,0,10mm,1e\n' * 6 + 'A,A,nan,0,0x10,1\n')
    with open(bad + '/work.csv', 'a') as out:
        out.write('1,A,0.5,laponop,,,,,,\n')
    calls = (['check', bad], ['solve', bad], [page + '/no/such/folder/anywhere/near/here/at/all'],
             ['solv', page], ['solve', page, '--modle', 'x'], ['solve', page, '--model', 'srface'],
             ['export', page, '--format', 'cvs', '--all'], ['report', page, '--picture', 'fase'],
             ['rehearse', page, '-d', '200', '--sigma', '2nm'],
             ['rehearse', page, '-p', 'A:B', '-d', '1', '-s', '3', '--sigma', '2nm', '--seed', '1'],
             ['rehearse', fresh, '-p', 'A:B', '-d', '1', '-s', '3', '--sigma', '2nm', '--seed', '1'],
             ['add', page, '--from', page + '/readings.csv', '--unit', 'parsec'], [])
    folded = 0
    for call in calls:
        done = subprocess.run([FW, *call], stdin=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
                              stdout=subprocess.DEVNULL, env=dict(os.environ, LC_ALL='C', TZ='UTC'))
        said = at_terminal(*call, of='stderr', LC_ALL='C')
        name = ' '.join(call)
        wide = [l for l in said.split('\n') if len(l) > 80 and ' ' in l.strip()]
        tell(done.stderr, name + ': nothing was said')
        tell(not wide, '%s: wider than a terminal: %r' % (name, wide[:1]))
        tell(said.split() == done.stderr.split() or fresh in call, name + ': other words at a terminal')
        folded += said.count('\n') > done.stderr.count('\n')
    tell(folded > 2, 'only %d messages were too long for a line' % folded)


class Page(html.parser.HTMLParser):
    """The page as a reader of screens meets it."""

    def __init__(self):
        super().__init__()
        self.path, self.faults, self.level, self.text = [], [], 0, []
        self.svg, self.part, self.captions, self.tables, self.pictures = None, None, 0, 0, 0

    def handle_starttag(self, tag, attrs):
        a = dict(attrs)
        if tag not in ('meta', 'link', 'br'):
            self.path.append(tag)
        if tag == 'html' and not a.get('lang'):
            self.faults.append('no language')
        if re.fullmatch('h[1-6]', tag):
            level = int(tag[1])
            if level > self.level + 1 or (level == 1 and self.level):
                self.faults.append('heading h%d after h%d' % (level, self.level))
            self.level = level
        if tag == 'svg':
            self.svg = dict(a, title='', desc='')
            self.pictures += 1
        if tag == 'table':
            self.tables += 1
            self.captions += 1
            self.head = False
        if tag == 'caption':
            self.captions -= 1
        if tag == 'th' and a.get('scope') not in ('col', 'row'):
            self.faults.append('a th without scope')
        if tag in ('script', 'img', 'iframe', 'object') or any(k.startswith('on') for k in a):
            self.faults.append('<%s>' % tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in ('meta', 'link', 'br'):
            self.handle_endtag(tag)

    def handle_endtag(self, tag):
        if tag == 'svg':
            s = self.svg
            if s.get('role') != 'img' or not s['title'] or s.get('aria-label') != s['title']:
                self.faults.append('a picture without a name: %r' % s)
            if len(s['desc'].split()) < 8 or not s['desc'].rstrip().endswith('.'):
                self.faults.append('%s: hardly described: %r' % (s['title'], s['desc']))
            self.svg = None
        while self.path and self.path.pop() != tag:
            pass

    def handle_data(self, data):
        if self.svg is not None and self.path[-1] in ('title', 'desc'):
            self.svg[self.path[-1]] += data
        elif self.svg is None and 'style' not in self.path:
            self.text.append(data)


def check_page(name, job):
    page, text = Page(), piped('report', job)
    page.feed(text)
    tell(not page.faults, '%s: %s' % (name, page.faults[:3]))
    tell(page.tables > 0 and page.captions == 0, '%s: a table without a caption' % name)
    tell(page.pictures > 0, name + ': no pictures')
    heard = ' '.join(' '.join(page.text).split())
    for flat in re.findall(r'^flats *= *(.*)', open(job + '/job.ini').read(), re.M)[0].split():
        if flat.startswith(';'):
            break
        tell(re.search(r'\b%s\b +(within|outside|undecided|undetermined)' % re.escape(flat), heard),
             '%s: the verdict on %s is not said' % (name, flat))
    tell('Next:' in heard, name + ': no decision')


def main():
    work = tempfile.mkdtemp()
    try:
        for name in sorted(os.listdir('examples')):
            job = os.path.join('examples', name)
            if not os.path.exists(job + '/job.ini'):
                continue
            for command in SCREENS:
                check_screen('%s %s' % (name, ' '.join(command)), job, command)
            check_page(name, job)
        check_bench(work)
        check_messages(work)
    finally:
        shutil.rmtree(work)
    finish()


main()
