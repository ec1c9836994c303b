/* bench.c - whole jobs of growing size: time and memory beside a bare reading of the same file. */
#define _DEFAULT_SOURCE /* wait4 */
#include <csv.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

/* An invented set: pairings of three flats, the later ones turned, one fan of diameters each. */
typedef struct size {
    int pairings, diameters, stations;
} size;

static const size sizes[] = {{5, 4, 5}, {6, 4, 21}, {6, 8, 209}, {6, 16, 1042}, {10, 25, 4001}};
enum { RUNS = 5 };

static double height(int flat, double x, double y)
{
    double r2 = (x * x + y * y) / 1e4;
    return (flat - 1) * 20 * r2 + 6 * sin(0.02 * x + flat) + 4 * cos(0.03 * y - flat);
}

static double noise(void)
{
    static uint32_t state = 1;
    double sum = 0;
    for (int i = 0; i < 12; i++)
        sum += (state = 1664525u * state + 1013904223u) / 4294967296.0;
    return 2 * (sum - 6);
}

static void write_job(const char *folder, size s)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/job.ini", folder);
    FILE *f = fopen(path, "w");
    fprintf(f, "[set]\nflats = A B C\ndiameter = 200\n[readings]\nunit = nm\nsigma = 2\n");
    fclose(f);
    snprintf(path, sizeof path, "%s/readings.csv", folder);
    f = fopen(path, "w");
    fprintf(f, "bottom,top,turn_deg,diameter_deg,position_mm,deviation\n");
    for (int p = 0; p < s.pairings; p++)
        for (int d = 0; d < s.diameters; d++)
            for (int i = 0; i < s.stations; i++) {
                int bottom = p % 3, top = (p + 1) % 3, step = p / 3;
                double turn = 180.0 * step / s.diameters, angle = 180.0 * d / s.diameters,
                       rad = 0.017453292519943295;
                double at = 95 * (2.0 * i / (s.stations - 1) - 1);
                double sum =
                    height(bottom, at * cos(angle * rad), at * sin(angle * rad)) +
                    height(top, at * cos((turn - angle) * rad), at * sin((turn - angle) * rad));
                fprintf(f, "%c,%c,%.10g,%.10g,%.4f,%.3f\n", 'A' + bottom, 'A' + top, turn, angle,
                        at, sum + noise());
            }
    fclose(f);
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

/* libcsv, and strtod on the four numbers of each row. */
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

/* One run in a child; program NULL: the bare reading. */
static cost run(const char *program, const char *command, const char *folder)
{
    struct timeval from, to;
    struct rusage use;
    int status;
    fflush(stdout);
    gettimeofday(&from, NULL);
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
    gettimeofday(&to, NULL);
    if (!WIFEXITED(status) || WEXITSTATUS(status)) {
        fprintf(stderr, "bench: a run failed\n");
        exit(1);
    }
    return (cost){(to.tv_sec - from.tv_sec) + 1e-6 * (to.tv_usec - from.tv_usec), use.ru_maxrss};
}

static int ascending(const void *a, const void *b)
{
    double x = ((const cost *)a)->seconds, y = ((const cost *)b)->seconds;
    return (x > y) - (x < y);
}

static cost median(const char *program, const char *command, const char *folder)
{
    cost runs[RUNS];
    for (int i = 0; i < RUNS; i++)
        runs[i] = run(program, command, folder);
    qsort(runs, RUNS, sizeof *runs, ascending);
    return runs[RUNS / 2];
}

int main(int argc, char **argv)
{
    char program[4096], folder[] = "/tmp/flatwright-bench-XXXXXX", path[4096];
    const char *slash = strstr(argv[0], "tests/bench/");
    snprintf(program, sizeof program, "%.*sflatwright", slash ? (int)(slash - argv[0]) : 0,
             argv[0]);
    if (argc > 1)
        snprintf(program, sizeof program, "%s", argv[1]);
    if (!mkdtemp(folder))
        return 3;
    printf("medians of %d runs, whole processes; bytes a reading: peak less that of the smallest "
           "job\n",
           RUNS);
    printf("  readings   bare s   check s   solve s   ratio   one screen s   peak MB   bytes a "
           "reading\n");
    long least = 0;
    for (size_t k = 0; k < sizeof sizes / sizeof *sizes; k++) {
        size s = sizes[k];
        long n = (long)s.pairings * s.diameters * s.stations;
        write_job(folder, s);
        cost bare = median(NULL, NULL, folder), read = median(program, "check", folder);
        cost solve = median(program, "solve", folder), all = median(program, NULL, folder);
        least = k == 0 ? all.kilobytes : least;
        printf("%10ld %8.4f %9.4f %9.4f %7.2f %14.4f %9.1f %17.0f\n", n, bare.seconds, read.seconds,
               solve.seconds, solve.seconds / bare.seconds, all.seconds,
               (double)all.kilobytes / 1024,
               k ? (all.kilobytes - least) * 1024.0 / (double)n : 0.0);
    }
    snprintf(path, sizeof path, "%s/job.ini", folder);
    unlink(path);
    snprintf(path, sizeof path, "%s/readings.csv", folder);
    unlink(path);
    return rmdir(folder) != 0;
}
