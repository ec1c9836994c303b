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
        grep -qE "^(reads|writes) $name( |\$)" "$here/runs" || echo "$name"
    done
}

# Lays job/ and out/ anew in $work.
lay()
{
    rm -rf "$work/job" "$work/out"
    cp -r "$example" "$work/job"
    mkdir "$work/out"
}

# Names, kinds and contents of all files of job/ and out/.
snapshot()
{
    (cd "$work" && find job out | sort && find job out -type f -print0 | sort -z |
        xargs -0 cksum)
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
