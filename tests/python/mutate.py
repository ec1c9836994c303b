#!/usr/bin/env python3
# Mutants: one operator, constant or sign of a source line is changed, and the tests have to notice.
# Run by `make mutate`.
#
# N=40 mutants at random (SEED=1) from src/figure, src/adjust and src/shop, or FILES='src/x/y.c ...'.
# The tests are linked once, to a shared library that has their support in it, and run once with gcov:
# a mutant meets only those that reach its function, quickest first, until one fails. QUICK=10 leaves
# out what takes longer than so many seconds, unless nothing else reaches it. A mutant whose object is
# the same byte for byte changes nothing and is none, and so is one that does not compile. The
# sanitizers count as tests, as they do in CI. Survivors are printed, to be judged one by one;
# build/mutate/survivors has them. Ends with status 0 when at least nine of ten were killed. TELL=1
# says what became of every mutant.
import glob, hashlib, json, os, pickle, random, re, shutil, subprocess, sys

B = 'build/mutate'
DIRS = ('src/figure', 'src/adjust', 'src/shop')
FLAGS = ['-std=c11', '-O1', '-fPIC', '-Iinclude', '-Isrc', '-D_POSIX_C_SOURCE=200809L',
         '-DFW_VERSION="0"', '-w', '-fsanitize=address,undefined', '-fno-sanitize-recover=all']
PKG = subprocess.run(['pkg-config', '--libs', 'lapacke', 'openblas', 'gsl'], check=True,
                     capture_output=True, text=True).stdout
LIBS = [l for l in PKG.split() if l != '-lgslcblas'] + ['-lcsv', '-lm']
WRAP = ['-Wl,--wrap=' + w for w in os.environ.get('WRAPPED', '').split()]  # of the Makefile
CC = ['ccache', 'cc'] if shutil.which('ccache') else ['cc']
ENV = dict(os.environ, LC_ALL='C', TZ='UTC', NO_COLOR='1', OPENBLAS_NUM_THREADS='1')
QUICK = float(os.environ.get('QUICK') or 10)  # seconds of processor time


def cc(*args):
    return subprocess.run([*CC, *FLAGS, *args], stderr=subprocess.DEVNULL).returncode == 0


def must(*args):
    if not cc(*args):
        sys.exit('does not compile: ' + ' '.join(args))


def library(name, objects, *more):
    must('-shared', *more, *WRAP, '-o', name, *objects, *glob.glob(B + '/s-*.o'), *LIBS, '-ljansson',
         '-lcmocka')


def build():
    """The library plain and with gcov, and the tests; returns the plain objects by source."""
    os.makedirs(B + '/o', exist_ok=True)
    os.makedirs(B + '/c', exist_ok=True)
    os.makedirs(B + '/t', exist_ok=True)
    objects, counted = {}, []
    for source in sorted(glob.glob('src/[!c]*/*.c')):
        name = source[:-2].replace('/', '-') + '.o'
        objects[source] = f'{B}/o/{name}'
        must('-c', '-o', objects[source], source)
        if source.startswith(DIRS):
            must('-fno-sanitize=all', '--coverage', '-c', '-o', f'{B}/c/{name}', source)
            counted.append(f'{B}/c/{name}')
        else:
            counted.append(objects[source])
    for source in glob.glob('tests/support/*.c'):
        must('-c', '-o', f'{B}/s-{os.path.basename(source)[:-2]}.o', source)
    library(B + '/libflatwright.so', objects.values())
    library(B + '/c/libflatwright.so', counted, '--coverage')
    tests = []
    for source in sorted(glob.glob('tests/unit/*.c') + glob.glob('tests/reference/*.c')):
        tests.append(f'{B}/t/{source[6:-2].replace("/", "-")}')
        must('-c', '-o', tests[-1] + '.o', source)
        must('-o', tests[-1], tests[-1] + '.o', *WRAP, '-L' + B, '-lflatwright', *LIBS, '-ljansson',
             '-lcmocka')
    return objects, tests


def run(test, path, limit):
    """Does a test pass with the library in `path`? And the processor time it took."""
    before = os.times()
    try:
        status = subprocess.run([test], env=dict(ENV, LD_LIBRARY_PATH=path), timeout=limit,
                                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                stderr=subprocess.DEVNULL).returncode
    except subprocess.TimeoutExpired:
        status = -1
    after = os.times()
    return status == 0, after.children_user + after.children_system - (
        before.children_user + before.children_system)


def reached():
    """The lines of DIRS that have been run since the counters were last removed."""
    lines = set()
    counters = glob.glob(B + '/c/*.gcda')
    out = subprocess.run(['gcov', '--json-format', '--stdout', *counters], capture_output=True)
    for text in out.stdout.decode().splitlines():
        for file in json.loads(text)['files'] if text.startswith('{') else []:
            lines.update((file['file'], line['line_number'])
                         for line in file['lines'] if line['count'])
    for counter in counters:
        os.remove(counter)
    return lines


def digest(*names):
    total = hashlib.sha256()
    for name in names:
        with open(name, 'rb') as source:
            total.update(name.encode() + source.read())
    return total.hexdigest()


def survey(tests):
    """Per test its seconds and the lines that it reaches; kept as long as the sources stay."""
    library_key = digest(*sorted(glob.glob('src/*/*.[ch]') + glob.glob('include/*/*.h') +
                                 glob.glob('tests/support/*')))
    try:
        with open(B + '/map', 'rb') as kept:
            known = pickle.load(kept)
    except (OSError, ValueError, EOFError):
        known = {}
    reach = {}
    for counter in glob.glob(B + '/c/*.gcda'):
        os.remove(counter)
    for test in tests:
        kind, name = os.path.basename(test).split('-', 1)
        key = library_key + digest(f'tests/{kind}/{name}.c')
        if known.get(test, [None])[0] != key:
            passed, seconds = run(test, B + '/c', 600)
            known[test] = key, passed, seconds, reached()
            with open(B + '/map', 'wb') as kept:
                pickle.dump(known, kept)
        _, passed, seconds, lines = known[test]
        if passed:
            reach[test] = seconds, lines
        else:
            print(test + ' fails as it is: left out', flush=True)
    return reach


def function_around(file, number):
    """The lines of the function that a line is in."""
    with open(file) as source:
        lines = source.read().split('\n')
    first = last = number
    while first > 1 and not lines[first - 1].startswith('{'):
        first -= 1
    while last < len(lines) and not lines[last - 1].startswith('}'):
        last += 1
    return range(first, last + 1)


TOKENS = re.compile(r'(?P<op> (?:[-+*/<>]|[<>]=|[=!]=|&&|\|\||[-+*]=) )|'
                    r'(?P<sign>(?<=[ (\[])-(?=[\w(]))|'
                    r'(?P<number>(?<![\w.])(?<!\de[-+])\d+(?:\.\d+)?(?:e[-+]?\d+)?(?![\w.]))')
DECLARES = re.compile(r' +(?:static |const )*(?:int|double|bool|char|size_t|fw_\w+) ')
OTHER = {'+': '-', '-': '+', '*': '/', '/': '*', '==': '!=', '!=': '==', '&&': '||', '||': '&&',
         '+=': '-=', '-=': '+=', '*=': '/=', '<': '<= >=', '>': '>= <=', '<=': '< >', '>=': '> <'}


def mutants(file):
    """All of them: (file, line, column, length, new). Strings, comments, asserts are spared."""
    found = []
    with open(file) as source:
        text = source.read()
    blank = lambda m: re.sub(r'[^\n]', ' ', m.group())
    text = re.sub(r'"(?:[^"\\\n]|\\.)*"|\'(?:[^\'\\\n]|\\.)+\'|/\*.*?\*/', blank, text, flags=re.S)
    for number, line in enumerate(text.split('\n'), 1):
        if not line.startswith(' ') or 'assert(' in line:
            continue
        sizes = DECLARES.match(line)  # an array with room to spare is none
        for m in TOKENS.finditer(line):
            if m['op']:
                for new in OTHER[m['op'].strip()].split():
                    found.append((file, number, m.start() + 1, len(m['op'].strip()), new))
            elif m['sign']:
                found.append((file, number, m.start(), 1, ''))
            elif not (sizes and line[m.start() - 1] == '[' and line[m.end()] == ']'):
                value = m['number']
                new = repr(float(value) * 1.5 or 1.5) if re.search('[.e]', value) else str(int(value) + 1)
                found.append((file, number, m.start(), len(value), new))
    return found


def change(mutant):
    """The source with the change, under its own name for messages."""
    file, number, column, length, new = mutant
    with open(file) as source:
        lines = source.read().split('\n')
    line = lines[number - 1]
    lines[number - 1] = line[:column] + new + line[column + length:]
    return f'# 1 "{file}"\n' + '\n'.join(lines)


def compiled(file, text):
    with open(B + '/mutant.c', 'w') as out:
        out.write(text)
    if not cc('-I' + os.path.dirname(file), '-c', '-o', B + '/mutant.o', B + '/mutant.c'):
        return None
    with open(B + '/mutant.o', 'rb') as made:
        return made.read()


def same(file, made):
    with open(file) as source:
        return compiled(file, f'# 1 "{file}"\n' + source.read()) == made


def judge(mutant, objects, reach):
    file, number = mutant[:2]
    made = compiled(file, change(mutant))
    if made is None:
        return 'does not compile'
    if same(file, made):
        return 'the same code'
    with open(B + '/mutant.o', 'wb') as out:
        out.write(made)
    os.makedirs(B + '/m', exist_ok=True)
    library(B + '/m/libflatwright.so',
            [B + '/mutant.o' if source == file else o for source, o in objects.items()])
    around = {(file, line) for line in function_around(file, number)}
    tests = sorted((seconds, test) for test, (seconds, lines) in reach.items() if around & lines)
    for seconds, test in tests:
        if seconds > QUICK and test != tests[0][1]:
            break
        passed, _ = run(test, B + '/m', 60 + 20 * seconds)
        if not passed:
            return 'killed by ' + os.path.basename(test)
    return 'survived' if tests else 'survived, no test reaches it'


def shown(mutant, result):
    file, number, column, length, new = mutant
    with open(file) as source:
        line = source.read().split('\n')[number - 1]
    return (f'{file}:{number}:{column + 1}: {line[column:column + length]} becomes '
            f'{new or "nothing"}: {result}\n    {line.strip()}')


def main():
    objects, tests = build()
    reach = survey(tests)
    files = os.environ.get('FILES', '').split() or [
        f for d in DIRS for f in sorted(glob.glob(d + '/*.c'))]
    possible = [m for f in files for m in mutants(f)]
    rng = random.Random(int(os.environ.get('SEED') or 1))
    tally = {d: [0, 0, 0] for d in sorted({os.path.dirname(f) for f in files})}
    with open(B + '/survivors', 'w') as survivors:
        for mutant in rng.sample(possible, min(int(os.environ.get('N') or 40), len(possible))):
            result = judge(mutant, objects, reach)
            kind = 0 if result.startswith('killed') else 1 if result.startswith('surv') else 2
            tally[os.path.dirname(mutant[0])][kind] += 1
            if kind == 1:
                survivors.write(shown(mutant, result) + '\n')
                survivors.flush()
            if kind == 1 or os.environ.get('TELL'):
                print(shown(mutant, result), flush=True)
    for name, (killed, survived, none) in tally.items():
        print(f'{name}: {killed} killed, {survived} survived, {none} none')
    killed, survived, none = map(sum, zip(*tally.values()))
    print(f'{killed} killed, {survived} survived, {none} were none, of {len(possible)} possible')
    return 0 if killed >= 9 * survived else 1


sys.exit(main())
