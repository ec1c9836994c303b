/* bench.c - whole jobs of growing size: time and memory beside a bare reading, and beside others. */
#define _DEFAULT_SOURCE /* wait4 */
#include <csv.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "../support/sized.h"

/* The last two are of the same scans. */
static const sized sizes[] = {
    {2, 5, 4, 5, 1, SIZED_EQUAL, 0, 0, 0},       {3, 6, 8, 21, 1, SIZED_EQUAL, 0, 0, 0},
    {3, 4, 36, 21, 1, SIZED_EQUAL, 0, 0, 0},     {4, 6, 8, 209, 1, SIZED_EQUAL, 0, 0, 0},
    {4, 12, 36, 23, 1, SIZED_EQUAL, 0, 0, 0},    {4, 4, 8, 32, 10, SIZED_EQUAL, 0, 0, 0},
    {4, 6, 8, 209, 1, SIZED_BY_SCAN, 0, 0, 0},   {4, 6, 8, 209, 1, SIZED_BY_READING, 0, 0, 0},
    {4, 6, 8, 209, 1, SIZED_EQUAL, 0.05, 0, 0},  {4, 6, 25, 67, 1, SIZED_EQUAL, 0.05, 0, 0},
    {5, 6, 16, 1042, 1, SIZED_EQUAL, 0, 0, 0},   {5, 6, 8, 2083, 1, SIZED_EQUAL, 0.05, 0, 0},
    {5, 6, 25, 667, 1, SIZED_EQUAL, 0.05, 0, 0}, {6, 10, 25, 4001, 1, SIZED_EQUAL, 0, 0, 0},
    {6, 4, 6, 4001, 10, SIZED_BY_SCAN, 0, 0, 0}, {6, 12, 36, 386, 6, SIZED_EQUAL, 0, 0, 0},
    {7, 12, 36, 4001, 6, SIZED_EQUAL, 0, 0, 0},
};
enum { NSIZES = sizeof sizes / sizeof *sizes };
/* 112 turns at half the gap of 36 diameters: 504 pairings to be ranked. */
static const sized ranking = {3, 4, 36, 21, 1, SIZED_EQUAL, 0, 2.5, 112};
/* 10^5 readings, of which a page is written. */
static const sized paper = {5, 6, 8, 2085, 1, SIZED_EQUAL, 0, 0, 0};

enum { RUNS = 5, LARGEST = 8 };

/*
 * The largest jobs that the others are asked to solve, in readings, and the seconds they may take. At
 * 10^6 the sparse ones took more than a minute.
 */
enum { DENSE_MOST = 2000, SPARSE_MOST = 200000, PATIENCE = 120 };

static const char *const methods[] = {"rings", "spqr", "lsqr", "lapack", "gsl"};
enum { RINGS, SPQR, LSQR, LAPACK, GSL, METHODS };

/* What was measured of a size; seconds. A method that did not end is NAN. */
typedef struct outcome {
    long readings;
    double bare, check, solve, screen, load, bytes, by[METHODS];
} outcome;

static double checksum;

static void take_field(void *field, size_t length, void *column)
{
    int *c = column;
    (void)length;
    if ((*c)++ >= 2)
        checksum += strtod(field, NULL);
}

static void take_row(int end, void *column)
{
    (void)end;
    *(int *)column = 0;
}

/* libcsv, and strtod on the five numbers of each row. */
static void bare_reading(const char *folder)
{
    char path[4096], buffer[65536];
    struct csv_parser parser;
    int column = 0;
    snprintf(path, sizeof path, "%s/readings.csv", folder);
    FILE *f = fopen(path, "r");
    if (!f || csv_init(&parser, CSV_APPEND_NULL))
        exit(3);
    for (size_t n; (n = fread(buffer, 1, sizeof buffer, f)) > 0;)
        csv_parse(&parser, buffer, n, take_field, take_row, &column);
    csv_fini(&parser, take_field, take_row, &column);
    csv_free(&parser);
    fclose(f);
    exit(checksum < -1e300);
}

typedef struct cost {
    double seconds, wall;
    long kilobytes;
} cost;

static double seconds_of(struct timeval t)
{
    return (double)t.tv_sec + 1e-6 * (double)t.tv_usec;
}

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* One run in a child; program NULL: the bare reading. */
static cost run(const char *program, const char *command, const char *folder)
{
    struct rusage use;
    int status;
    fflush(stdout);
    double start = now();
    pid_t child = fork();
    if (child == 0) {
        if (!program)
            bare_reading(folder);
        if (!freopen("/dev/null", "w", stdout))
            _exit(3);
        if (command)
            execl(program, program, command, folder, (char *)NULL);
        else
            execl(program, program, folder, (char *)NULL);
        _exit(3);
    }
    wait4(child, &status, 0, &use);
    double wall = now() - start;
    if (!WIFEXITED(status) || WEXITSTATUS(status)) {
        fprintf(stderr, "bench: a run of '%s' failed\n", command ? command : "the program");
        exit(1);
    }
    return (cost){seconds_of(use.ru_utime) + seconds_of(use.ru_stime), wall, use.ru_maxrss};
}

static int by_seconds(const void *a, const void *b)
{
    double x = ((const cost *)a)->seconds, y = ((const cost *)b)->seconds;
    return (x > y) - (x < y);
}

/* 5 runs, of the largest fewer. */
static int runs_of(int decade)
{
    return decade < 6 ? RUNS : decade == 6 ? 3 : 1;
}

/* What is compared is run in turn, so that all meet the same machine. */
typedef struct trial {
    const char *program, *command, *folder;
    cost median;
    double wall; /* the least */
} trial;

static void measure(int n, trial *trials, int runs)
{
    cost costs[LARGEST][RUNS];
    for (int i = 0; i < runs; i++)
        for (int k = 0; k < n; k++) {
            costs[k][i] = run(trials[k].program, trials[k].command, trials[k].folder);
            double wall = costs[k][i].wall;
            trials[k].wall = i == 0 || wall < trials[k].wall ? wall : trials[k].wall;
        }
    for (int k = 0; k < n; k++) {
        qsort(costs[k], runs, sizeof *costs[k], by_seconds);
        trials[k].median = costs[k][runs / 2];
    }
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The seconds that a command says it took, the median of some runs; NAN: it did not end well. */
static double told(const char *command, int runs)
{
    double seconds[RUNS];
    for (int i = 0; i < runs; i++) {
        char line[64], *end = line;
        FILE *f = popen(command, "r");
        if (f && fgets(line, sizeof line, f))
            seconds[i] = strtod(line, &end);
        if (!f || pclose(f) || end == line)
            return NAN;
    }
    qsort(seconds, runs, sizeof *seconds, ascending);
    return seconds[runs / 2];
}

/* Seconds of processor time that ranking a job's pairings takes. */
static double told_ranking(const char *peers, const char *folder)
{
    char command[9000];
    snprintf(command, sizeof command, "%s rank %s", peers, folder);
    return told(command, RUNS);
}

/*
 * The same equations by ours and by others. One thread: those that wait for work turn round and round,
 * and would be counted.
 */
static double by_method(const char *peers, const char *folder, int method, int runs)
{
    const char *python = getenv("PYTHON");
    char command[9000];
    if (method == LSQR)
        snprintf(command, sizeof command,
                 "%s write %s >%s/equations 2>/dev/null && OPENBLAS_NUM_THREADS=1 timeout %d "
                 "%s tests/bench/lsqr.py %s/equations 2>/dev/null",
                 peers, folder, folder, PATIENCE, python ? python : "python3", folder);
    else
        snprintf(command, sizeof command,
                 "OPENBLAS_NUM_THREADS=1 timeout %d %s %s %s 2>/dev/null", PATIENCE, peers,
                 methods[method], folder);
    return told(command, runs);
}

static void ask_methods(const char *peers, const char *folder, int decade, outcome *x)
{
    for (int k = 0; k < METHODS; k++) {
        long most = k == RINGS ? x->readings : k <= LSQR ? SPARSE_MOST : DENSE_MOST;
        int runs = k == RINGS ? runs_of(decade) : decade <= 4 && k < GSL ? RUNS : 1;
        x->by[k] = x->readings <= most ? by_method(peers, folder, k, runs) : NAN;
    }
}

static void show(const sized *s, const outcome *x)
{
    static const char *const weights[] = {"equal", "by scan", "each"};
    printf("%8ld %2dx%2dx%4dx%2d %-7s %3.0f%% %8.4f %8.4f %8.4f %6.2f %8.4f %6.2f %6.0f %8.4f",
           x->readings, s->pairings, s->diameters, s->stations, s->rounds, weights[s->weights],
           100 * s->missing, x->bare, x->check, x->solve, x->solve / x->bare, x->screen,
           x->solve / x->load, x->bytes, fmax(x->solve - x->check, 0));
    for (int k = 0; k < METHODS; k++)
        if (isnan(x->by[k]))
            printf(" %8s", "-");
        else
            printf(" %8.4f", x->by[k]);
    printf("\n");
    fflush(stdout);
}

static outcome try_size(const char *program, const char *peers, const char *folder, const sized *s,
                        long *least)
{
    outcome x = {.readings = sized_write(folder, *s)};
    trial t[] = {{.folder = folder},
                 {.program = program, .command = "check", .folder = folder},
                 {.program = program, .command = "solve", .folder = folder},
                 {.program = program, .folder = folder},
                 {.program = program, .folder = "--version"}};
    measure(5, t, runs_of(s->decade));
    long memory = t[2].median.kilobytes;
    *least = *least ? *least : memory;
    x.bare = t[0].median.seconds;
    x.check = t[1].median.seconds;
    x.solve = t[2].median.seconds;
    x.screen = t[3].median.seconds;
    x.load = t[4].median.seconds;
    x.bytes = fmax((double)(memory - *least), 0) * 1024 / (double)x.readings;
    ask_methods(peers, folder, s->decade, &x);
    show(s, &x);
    return x;
}

/* A bound: what, the ratio measured, the most it may be. NAN: not measured in this run. */
static void bound(const char *what, double got, double most)
{
    if (isnan(got))
        printf("%-76s %10s %8.3g  not measured\n", what, "-", most);
    else
        printf("%-76s %10.3g %8.3g  %s\n", what, got, most, got <= most ? "met" : "NOT MET");
}

/* The worst over the sizes of a decade and up; fmax passes what is not measured. */
static double worst(const outcome *x, int from, int to, double (*of)(const outcome *x))
{
    double most = NAN;
    for (int k = 0; k < NSIZES; k++)
        if (sizes[k].decade >= from && sizes[k].decade <= to)
            most = fmax(most, of(&x[k]));
    return most;
}

static double over_spqr(const outcome *x)
{
    return x->by[RINGS] / x->by[SPQR];
}

static double over_lsqr(const outcome *x)
{
    return x->by[RINGS] / x->by[LSQR];
}

static double over_bare(const outcome *x)
{
    return x->solve / x->bare;
}

static double over_load(const outcome *x)
{
    return x->solve / x->load;
}

static double bytes_of(const outcome *x)
{
    return x->bytes;
}

static double over_lapack(const outcome *x)
{
    return x->by[RINGS] / x->by[LAPACK];
}

static double over_gsl(const outcome *x)
{
    return x->by[RINGS] / x->by[GSL];
}

static double solve_of(const outcome *x)
{
    return x->solve;
}

static double bare_of(const outcome *x)
{
    return x->bare;
}

/* Ten times the readings of `before` at the speed of x, over the time of `before`. */
static double step(const outcome *before, const outcome *x, double (*of)(const outcome *x))
{
    return 10 * (of(x) / (double)x->readings) / (of(before) / (double)before->readings);
}

/* The worst step from one decade's first size to the next one's. */
static double growth(const outcome *x, double (*of)(const outcome *x))
{
    double most = NAN;
    int before = -1;
    for (int k = 0; k < NSIZES; k++) {
        if (sizes[k].decade < 4 || x[k].readings == 0 ||
            (before >= 0 && sizes[k].decade == sizes[before].decade))
            continue;
        if (before >= 0 && sizes[k].decade == sizes[before].decade + 1)
            most = fmax(most, step(&x[before], &x[k], of));
        before = k;
    }
    return most;
}

/* The next number of a stream; false at its end. */
static bool next_number(FILE *f, double *value)
{
    char text[64], *end = text;
    size_t n = 0;
    int c = fgetc(f);
    while (c != EOF && !strchr("-0123456789", c))
        c = fgetc(f);
    for (; c != EOF && strchr("+-.0123456789eE", c) && n + 1 < sizeof text; c = fgetc(f))
        text[n++] = (char)c;
    text[n] = '\0';
    *value = strtod(text, &end);
    return end > text;
}

/*
 * Largest difference between all numbers of two programs' tables of heights, relative, or in nm where
 * they are under 1; NAN: one of them failed.
 */
static double apart(const char *one, const char *two, const char *folder)
{
    char command[2][9000];
    double most = 0, a, b;
    snprintf(command[0], sizeof command[0], "%s export %s --format csv", one, folder);
    snprintf(command[1], sizeof command[1], "%s export %s --format csv", two, folder);
    FILE *f = popen(command[0], "r"), *g = popen(command[1], "r");
    bool more = f && g;
    while (more) {
        bool first = next_number(f, &a), second = next_number(g, &b);
        more = first && second;
        if (first != second)
            most = INFINITY;
        if (more)
            most = fmax(most, fabs(a - b) / fmax(1, fmax(fabs(a), fabs(b))));
    }
    bool ended = f && g;
    ended = f && pclose(f) == 0 && ended;
    ended = g && pclose(g) == 0 && ended;
    return ended ? most : NAN;
}

/* Two threads against one, and this program against an older one, BEFORE, on the sizes up to 10^4. */
static void compare(const char *program, const char *folder)
{
    const char *before = getenv("BEFORE");
    char two[4200];
    double threads = 0, since = 0;
    snprintf(two, sizeof two, "OPENBLAS_NUM_THREADS=2 %s", program);
    for (int k = 0; k < NSIZES; k++) {
        if (sizes[k].decade > 4)
            continue;
        sized_write(folder, sizes[k]);
        threads = fmax(threads, apart(program, two, folder));
        if (before && *before)
            since = fmax(since, apart(program, before, folder));
    }
    bound("heights and uncertainties with 2 threads, less those with 1", threads, 0);
    bound("the same less those of the program named by BEFORE", before && *before ? since : NAN, 1e-9);
}

static void show_bounds(const char *program, const char *peers, const char *folder,
                        const outcome *x)
{
    trial t[] = {{.program = program, .folder = "examples/aurora"},
                 {.program = program, .folder = "--version"}};
    printf("\n%-76s %10s %8s\n", "bound", "measured", "at most");
    bound("heights with every uncertainty over SPQR's point solution, worst from 10^4",
          worst(x, 4, 9, over_spqr), 1);
    bound("the same over lsqr's", worst(x, 4, 9, over_lsqr), 1);
    bound("solve over the bare reading of the file, worst of 10^6", worst(x, 6, 6, over_bare), 1.5);
    bound("bytes a reading, worst of 10^6", worst(x, 6, 6, bytes_of), 150);
    bound("bytes a reading, worst from 10^4", worst(x, 4, 9, bytes_of), 150);
    bound("time of solve for ten times the readings, worst step from 10^4 to 10^7",
          growth(x, solve_of), 11);
    printf("%-76s %10.3g\n", "the same of the bare reading of the file", growth(x, bare_of));
    bound("the same from 10^6 to 10^7 with as many scans",
          step(&x[NSIZES - 2], &x[NSIZES - 1], solve_of), 11);
    bound("heights with every uncertainty over LAPACK's dense solution, 10^3",
          worst(x, 3, 3, over_lapack), 0.01);
    bound("the same over GSL's", worst(x, 3, 3, over_gsl), 0.01);
    bound("solve over a process that only loads the libraries, 10^2", worst(x, 2, 2, over_load), 3);
    sized_write(folder, ranking);
    bound("seconds to rank 504 pairings on 36 diameters", told_ranking(peers, folder), 1);
    trial page = {.program = program, .command = "report", .folder = folder};
    sized_write(folder, paper);
    measure(1, &page, 3);
    bound("seconds for the page of 10^5 readings on 8 diameters", page.median.seconds, 1);
    measure(2, t, RUNS);
    bound("wall-clock seconds of the whole screen of the example, least of 5", t[0].wall, 0.01);
    printf("%-76s %10.3g\n", "the same of a process that only loads the libraries", t[1].wall);
    compare(program, folder);
}

/* Is a job of this decade wanted? SIZES: a list of decades, "2 3 4"; not set: all. */
static bool wanted(int decade)
{
    const char *list = getenv("SIZES");
    return !list || !*list || strchr(list, '0' + decade);
}

int main(int argc, char **argv)
{
    char program[4096], peers[4096], folder[] = "/tmp/flatwright-bench-XXXXXX";
    const char *slash = strstr(argv[0], "tests/bench/");
    int root = slash ? (int)(slash - argv[0]) : 0;
    long least = 0;
    outcome x[NSIZES];
    snprintf(program, sizeof program, "%.*sflatwright", root, argv[0]);
    snprintf(peers, sizeof peers, "%.*stests/bench/peers", root, argv[0]);
    if (argc > 1)
        snprintf(program, sizeof program, "%s", argv[1]);
    if (!mkdtemp(folder) || setenv("OPENBLAS_NUM_THREADS", "1", 1))
        return 3;
    printf("medians of %d runs (10^6: 3, 10^7: 1; the others from 10^5: 1); seconds of processor "
           "time,\none thread each\n"
           "job       pairings x diameters x stations x rounds, weights, missing\n"
           "x bare    solve by a bare reading of the file; x load: by a process that only loads "
           "libraries\n"
           "B/rd      bytes a reading, peak less that of the smallest job\n"
           "solving   solve less check: heights, verdicts, comparison of models, suspects, output\n"
           "rings     of that the heights with every uncertainty, from the readings in memory;\n"
           "          then the point solution of the same equations by others, at most %d s each;\n"
           "          all alike the third time in a process where one takes less than 0.25 s\n\n",
           RUNS, PATIENCE);
    printf("readings job             weights miss     bare    check    solve x bare   screen x load "
           "  B/rd  solving    rings     SPQR     lsqr   LAPACK      GSL\n");
    for (int k = 0; k < NSIZES; k++) {
        x[k] = (outcome){0, NAN, NAN, NAN, NAN, NAN, NAN, {NAN, NAN, NAN, NAN, NAN}};
        if (wanted(sizes[k].decade))
            x[k] = try_size(program, peers, folder, &sizes[k], &least);
    }
    show_bounds(program, peers, folder, x);
    sized_remove(folder);
    return 0;
}
