/* command.c - any words as a command line, in a folder that holds a good job. */
#define _XOPEN_SOURCE 700
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int flatwright_main(int argc, char **argv);

/* The program itself, so that its table of commands is met. It is built in once more. */
#define main flatwright_main
#include "../../src/cli/main.c" // NOLINT
#undef main

#include "place.h"

enum { WORDS_MAX = 8, BYTES_MAX = 400 };

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);

/* Nothing of the machine's is in reach: no word leads out of the folder. */
static bool stays_inside(const char *word)
{
    return word[0] != '/' && !strstr(word, "..") && !strstr(word, "=/") && !strstr(word, "o/");
}

/* `rehearse` without a plan searches for seconds, minutes under the sanitizers. */
static bool searches(char **words, int n)
{
    bool rehearses = false, planned = false;
    for (int i = 1; i < n; i++) {
        rehearses = rehearses || strcmp(words[i], "rehearse") == 0;
        planned = planned || strncmp(words[i], "--pair", 6) == 0 || strncmp(words[i], "-p", 2) == 0;
    }
    return rehearses && !planned;
}

static void begin(void)
{
    static bool begun;
    if (begun)
        return;
    begun = true;
    if (chdir(place_folder()) != 0 || !freopen("/dev/null", "w", stdout) ||
        !freopen("/dev/null", "r", stdin))
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    char text[BYTES_MAX + 1], name[] = "flatwright", *words[WORDS_MAX + 2] = {name};
    int n = 1;
    if (size > BYTES_MAX)
        return 0;
    place_empty();
    place_one("job.ini", (const uint8_t *)PLACE_INI, strlen(PLACE_INI));
    begin();
    memcpy(text, bytes, size);
    text[size] = '\0';
    for (char *word = text; n <= WORDS_MAX && word; n++) {
        char *end = strchr(word, '\n');
        if (end)
            *end = '\0';
        if (!stays_inside(word))
            return 0;
        words[n] = word;
        word = end ? end + 1 : NULL;
    }
    if (searches(words, n))
        return 0;
    int status = run(n, words);
    if (status < FW_OK || status > FW_SYSTEM)
        abort();
    return 0;
}
