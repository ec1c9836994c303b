# lib.sh - what the fault tests share: a table of runs, a fresh job, files before and after.
export LC_ALL=C TZ=UTC NO_COLOR=1 OPENBLAS_NUM_THREADS=1
B=${B:-build/release}
here=tests/fault
program=$(cd "$B" && pwd)/flatwright
example=${EXAMPLE:-examples/page}
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
# Behind a preloaded malloc the address sanitizer finds itself not first, and does not mind.
export ASAN_OPTIONS=verify_asan_link_order=0
passed=0 failed=0

# The commands of --help that have no run.
forgotten()
{
    "$program" --help | awk '/^  [a-z]/ { print $1 }' | while read -r name; do
        grep -qE "^(reads|writes|adds) $name( |\$)" "$here/runs" || echo "$name"
    done
}

# Lays job/ and out/ anew in $work.
lay()
{
    rm -rf "$work/job" "$work/out"
    cp -r "$example" "$work/job"
    mkdir "$work/out"
}

# Names and contents of all files of job/ and out/. What `add` keeps for the next one does not count;
# an empty file left in its place does.
snapshot()
{
    (cd "$work" && find job out \( ! -name '*.adding' -o -empty \) | sort &&
        find job out -type f ! -name '*.adding' -print0 | sort -z | xargs -0 cksum)
}

# How the files stand, told from the snapshots `before`, `after` and `now`: before, complete, changed;
# or grown, where $1 is `adds`: rows have been added to readings.csv, and nothing else has happened.
state_of()
{
    if cmp -s "$work/now" "$work/after"; then
        echo complete
    elif cmp -s "$work/now" "$work/before"; then
        echo before
    elif [ "$1" = adds ] && "$program" check "$work/job" >/dev/null 2>&1 &&
        head -n "$(wc -l <"$example/readings.csv")" "$work/job/readings.csv" |
        cmp -s - "$example/readings.csv" &&
        [ "$(find "$work/job" ! -name '*.adding' | wc -l)" = "$(find "$example" | wc -l)" ]; then
        echo grown
    else
        echo changed
    fi
}

# The arguments of a line of `runs`, its places put in, into the variable `arguments`.
place()
{
    arguments=$(printf '%s' "$1" | sed "s|JOB|$work/job|g; s|OUT|$work/out|g")
}

verdict()
{
    if [ -s "$work/bad" ]; then
        echo "FAIL $1"
        head -n 20 "$work/bad"
        failed=$((failed + 1))
    else
        passed=$((passed + 1))
    fi
    : >"$work/bad"
}

finish()
{
    echo "$passed passed, $failed failed"
    [ $failed -eq 0 ] && [ $passed -gt 0 ]
}
