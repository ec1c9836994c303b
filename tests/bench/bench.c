/* bench.c - whole jobs of growing size: time and memory beside a bare reading, and beside others. */
#define _DEFAULT_SOURCE /* wait4 */
#include <csv.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

/*
 * An invented set of three flats: pairings, the later ones turned, each on a fan of diameters; rounds
 * with work between them.
 */
typedef struct size {
    int decade; /* of the readings: what SIZES chooses by */
    int pairings, diameters, stations, rounds;
    enum { EQUAL, BY_SCAN, BY_READING } weights;
    double missing; /* share of the readings */
} size;

static const size sizes[] = {
    {2, 5, 4, 5, 1, EQUAL, 0},          {3, 6, 8, 21, 1, EQUAL, 0},
    {3, 4, 36, 21, 1, EQUAL, 0},        {4, 6, 8, 209, 1, EQUAL, 0},
    {4, 12, 36, 23, 1, EQUAL, 0},       {4, 4, 8, 32, 10, EQUAL, 0},
    {4, 6, 8, 209, 1, BY_SCAN, 0},      {4, 6, 8, 209, 1, BY_READING, 0},
    {4, 6, 8, 209, 1, EQUAL, 0.05},     {4, 6, 25, 67, 1, EQUAL, 0.05},
    {5, 6, 16, 1042, 1, EQUAL, 0},      {5, 6, 8, 2083, 1, EQUAL, 0.05},
    {6, 10, 25, 4001, 1, EQUAL, 0},     {6, 4, 6, 4001, 10, BY_SCAN, 0},
    {7, 12, 36, 4001, 6, EQUAL, 0},
};
enum { RUNS = 5, LARGEST = 8 };

/* The largest jobs that the others are asked to solve, in readings, and how long they may take. */
enum { DENSE_MOST = 2000, SPARSE_MOST = 2000000, PATIENCE = 60 };

static uint32_t state = 1;

static double uniform(void)
{
    return (state = 1664525u * state + 1013904223u) / 4294967296.0;
}

static double noise(void)
{
    double sum = 0;
    for (int i = 0; i < 12; i++)
        sum += uniform();
    return 2 * (sum - 6);
}

static double height(int flat, double x, double y)
{
    double r2 = (x * x + y * y) / 1e4;
    return (flat - 1) * 20 * r2 + 6 * sin(0.02 * x + flat) + 4 * cos(0.03 * y - flat);
}

static FILE *create(const char *folder, const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "w");
    if (!f) {
        fprintf(stderr, "bench: '%s' cannot be written\n", path);
        exit(1);
    }
    return f;
}

/* One scan's readings; a worked flat has lost 2 nm all over and 10 at the middle a round. */
static long write_scan(FILE *f, size s, int round, int pairing, int diameter)
{
    const double rad = 0.017453292519943295;
    int bottom = pairing % 3, top = (pairing + 1) % 3, turns = pairing / 3;
    double turn = 180.0 * turns / s.diameters, angle = 180.0 * diameter / s.diameters;
    double factor = s.weights == BY_SCAN ? 1 + 0.5 * ((pairing + diameter) % 3) : 1;
    long written = 0;
    for (int i = 0; i < s.stations; i++) {
        double at = 95 * (2.0 * i / (s.stations - 1) - 1);
        double sum = height(bottom, at * cos(angle * rad), at * sin(angle * rad)) +
                     height(top, at * cos((turn - angle) * rad), at * sin((turn - angle) * rad)) -
                     (bottom == 0 || top == 0) * (round - 1) * (12 - 10 * at * at / 9025);
        double w = s.weights == BY_READING ? 1 + uniform() : factor, e = w * noise();
        if (s.missing > 0 && uniform() < s.missing)
            continue;
        fprintf(f, "%c,%c,%.10g,%.10g,%.4f,%.3f,%d", 'A' + bottom, 'A' + top, turn, angle, at,
                sum + e, round);
        fprintf(f, s.weights == EQUAL ? "\n" : ",%.3f\n", 2 * w);
        written++;
    }
    return written;
}

/* Returns the number of readings. */
static long write_job(const char *folder, size s)
{
    long n = 0;
    FILE *f = create(folder, "job.ini");
    fprintf(f, "[set]\nflats = A B C\ndiameter = 200\n[readings]\nunit = nm\n%s",
            s.weights == EQUAL ? "sigma = 2\n" : "");
    fclose(f);
    f = create(folder, "work.csv");
    fprintf(f, "round,flat,method,hours\n");
    for (int round = 1; round < s.rounds; round++)
        fprintf(f, "%d,A,flat-on-top,0.2\n", round);
    fclose(f);
    f = create(folder, "readings.csv");
    fprintf(f, "bottom,top,turn_deg,diameter_deg,position_mm,deviation,round%s\n",
            s.weights == EQUAL ? "" : ",sigma");
    for (int round = 1; round <= s.rounds; round++)
        for (int p = 0; p < s.pairings; p++)
            for (int d = 0; d < s.diameters; d++)
                n += write_scan(f, s, round, p, d);
    fclose(f);
    return n;
}

static void remove_job(const char *folder)
{
    static const char *const names[] = {"job.ini", "work.csv", "readings.csv", "equations"};
    char path[4096];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        unlink(path);
    }
    rmdir(folder);
}

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
    double seconds;
    long kilobytes;
} cost;

static double seconds_of(struct timeval t)
{
    return (double)t.tv_sec + 1e-6 * (double)t.tv_usec;
}

/* One run in a child; program NULL: the bare reading. */
static cost run(const char *program, const char *command, const char *folder)
{
    struct rusage use;
    int status;
    fflush(stdout);
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
    if (!WIFEXITED(status) || WEXITSTATUS(status)) {
        fprintf(stderr, "bench: a run of '%s' failed\n", command ? command : "the program");
        exit(1);
    }
    return (cost){seconds_of(use.ru_utime) + seconds_of(use.ru_stime), use.ru_maxrss};
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
} trial;

static void measure(int n, trial *trials, int runs)
{
    cost costs[LARGEST][RUNS];
    for (int i = 0; i < runs; i++)
        for (int k = 0; k < n; k++)
            costs[k][i] = run(trials[k].program, trials[k].command, trials[k].folder);
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

/* The same equations by the others: their point solutions, of the one of GSL the covariance too. */
static void show_peers(const char *peers, const char *folder, int decade, long n)
{
    static const char *const methods[] = {"spqr", "lsqr", "lapack", "gsl"};
    const char *python = getenv("PYTHON");
    char command[9000];
    for (int k = 0; k < 4; k++) {
        int runs = decade <= 4 && k < 3 ? RUNS : 1;
        double seconds = NAN;
        if (k == 1)
            snprintf(command, sizeof command,
                     "%s write %s >%s/equations 2>/dev/null && timeout %d %s tests/bench/lsqr.py "
                     "%s/equations 2>/dev/null",
                     peers, folder, folder, PATIENCE, python ? python : "python3", folder);
        else
            snprintf(command, sizeof command, "timeout %d %s %s %s 2>/dev/null", PATIENCE, peers,
                     methods[k], folder);
        if (n <= (k < 2 ? SPARSE_MOST : DENSE_MOST))
            seconds = told(command, runs);
        if (isnan(seconds))
            printf(" %8s", "-");
        else
            printf(" %8.4f", seconds);
    }
}

static void show(const char *program, const char *peers, const char *folder, size s, long *least)
{
    static const char *const weights[] = {"equal", "by scan", "each"};
    long n = write_job(folder, s);
    trial t[] = {{.folder = folder},
                 {.program = program, .command = "check", .folder = folder},
                 {.program = program, .command = "solve", .folder = folder},
                 {.program = program, .folder = folder},
                 {.program = program, .folder = "--version"}};
    measure(5, t, runs_of(s.decade));
    *least = *least ? *least : t[2].median.kilobytes;
    double bare = t[0].median.seconds, read = t[1].median.seconds, solve = t[2].median.seconds;
    printf("%8ld %2dx%2dx%4dx%2d %-7s %3.0f%% %8.4f %8.4f %8.4f %6.2f %8.4f %6.2f %7.1f %5.0f", n,
           s.pairings, s.diameters, s.stations, s.rounds, weights[s.weights], 100 * s.missing, bare,
           read, solve, solve / bare, t[3].median.seconds, solve / t[4].median.seconds,
           (double)t[2].median.kilobytes / 1024,
           fmax((double)(t[2].median.kilobytes - *least), 0) * 1024 / (double)n);
    printf(" %8.4f", fmax(solve - read, 0));
    show_peers(peers, folder, s.decade, n);
    printf("\n");
    fflush(stdout);
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
    snprintf(program, sizeof program, "%.*sflatwright", root, argv[0]);
    snprintf(peers, sizeof peers, "%.*stests/bench/peers", root, argv[0]);
    if (argc > 1)
        snprintf(program, sizeof program, "%s", argv[1]);
    if (!mkdtemp(folder) || setenv("OPENBLAS_NUM_THREADS", "1", 1))
        return 3;
    printf(
        "medians of %d runs (10^6: 3, 10^7: 1; the others from 10^5: 1); seconds of processor time of\n"
        "whole processes, one thread each\n"
        "job       pairings x diameters x stations x rounds, weights, missing\n"
        "x bare    solve by a bare reading of the file; x load: by a process that only loads "
        "libraries\n"
        "B/rd      bytes a reading, peak less that of the smallest job\n"
        "solving   solve less check: every height with its uncertainty; then the point solution\n"
        "          alone of the same equations by others, at most %d s each\n\n",
        RUNS, PATIENCE);
    printf("readings job             weights miss     bare    check    solve x bare   screen x load "
           "     MB  B/rd  solving     SPQR     lsqr   LAPACK      GSL\n");
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++)
        if (wanted(sizes[k].decade))
            show(program, peers, folder, sizes[k], &least);
    remove_job(folder);
    return 0;
}
