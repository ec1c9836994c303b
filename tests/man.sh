#!/bin/sh
# The man pages: free of mandoc's complaints, the same as --help in synopsis and options, naming
# every key and column that the program reads, and with examples that run.
export LC_ALL=C TZ=UTC NO_COLOR=1
program=${FLATWRIGHT:-$(pwd)/build/release/flatwright}
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
passed=0 failed=0

# Counts the check named $1 as passed when the status $2 is 0.
tell()
{
    if [ "$2" -eq 0 ]; then passed=$((passed + 1)); else failed=$((failed + 1)); echo "man: $1"; fi
}

plain() { mandoc -Tascii -O width=200 "$1" | sed 's/.\x08//g'; }

# The pages are not installed yet, so they do not find each other.
mandoc -Tlint man/*.[0-9] | grep -v 'not found: Xr flatwright' >"$work/lint"
[ ! -s "$work/lint" ]
tell "$(cat "$work/lint")" $?

plain man/flatwright.1 >"$work/page"
plain man/flatwright-job.5 >"$work/job"

# Each command's usage line is a line of the synopsis, and the other way round.
"$program" --help >"$work/help"
tell '--help fails' $?
sed -n '/^commands:/,/^$/s/^  \([a-z]*\) .*/\1/p' "$work/help" >"$work/commands"
[ -s "$work/commands" ]
tell '--help names no command' $?
for command in . $(cat "$work/commands"); do
    "$program" "$command" --help >"$work/help.$command"
    tell "$command --help fails" $?
    sed '/^$/,$d; s/^usage: //; s/^ *//' "$work/help.$command" | paste -sd ' ' -
done | sort >"$work/usages"
sed -n '/^SYNOPSIS/,/^DESCRIPTION/s/^ *\(flatwright .*\)/\1/p' "$work/page" | sort >"$work/synopsis"
diff "$work/synopsis" "$work/usages"
tell 'synopsis (<) and --help (>) differ' $?

# The options of all commands: as pairs, such as "-j, --json".
sed -n 's/^  \(-., --[a-z-]*\).*/\1/p' "$work"/help.* | sort -u >"$work/help.options"
sed -n 's/^ *\(-., --[a-z-]*\).*/\1/p' "$work/page" | sort -u >"$work/page.options"
diff "$work/page.options" "$work/help.options"
tell 'the options of the page (<) and of --help (>) differ' $?

# Two examples in every --help, which run as they stand where `trio` is a job, or none for `new`.
mkdir "$work/bench"
PATH=$(dirname "$program"):$PATH
for command in . $(cat "$work/commands"); do
    sed -n '/^examples:/,$s/^  //p' "$work/help.$command" >"$work/two"
    [ "$(wc -l <"$work/two")" -eq 2 ]
    tell "$command --help has not two examples" $?
    while read -r line; do
        rm -rf "$work/bench" && mkdir "$work/bench"
        [ "$command" = new ] || cp -R examples/aurora "$work/bench/trio"
        (cd "$work/bench" && sh -ec "$line") >/dev/null 2>"$work/err" </dev/null
        tell "$line: $(cat "$work/err")" $?
    done <"$work/two"
done

# No line of a --help is wider than a terminal.
[ -z "$(awk 'length > 80' "$work"/help*)" ]
tell "wider than 80: $(awk 'length > 80' "$work"/help*)" $?

# Keys and columns: the tables that the program reads by.
{
    sed -n 's/^ *\[FW_KEY_[A-Z_]*\] = {"[a-z]*", "\([a-z_]*\)".*/\1/p' src/job/settings.c
    grep -hoE '\{"[a-z_]+", (true|false)\}' src/job/*.c | sed 's/{"\([a-z_]*\)".*/\1/'
} >"$work/names"
[ "$(wc -l <"$work/names")" -ge 59 ]
tell 'too few keys and columns found in the sources' $?
while read -r name; do
    grep -qE "^ +([a-z_]+, )*$name(,|  |\$)" "$work/job"
    tell "$name is not in flatwright-job(5)" $?
done <"$work/names"

# Examples are the lines of the pages that begin with "$ "; tests/session.sh runs those of the session.
cp -R examples "$work"
sed -n 's|^\$ \(.*\)|\1|p' man/*.[1-6] | sed 's|\\-|-|g; s|\\e|\\|g' >"$work/examples.sh"
while read -r line; do
    (cd "$work" && sh -c "$line") >/dev/null 2>"$work/err" </dev/null
    status=$?
    tell "$line: $(cat "$work/err")" $status
done <"$work/examples.sh"

printf '%d passed, %d failed\n' $passed $failed
[ $failed -eq 0 ]
