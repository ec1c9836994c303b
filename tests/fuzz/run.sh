#!/bin/sh
# Runs the fuzzing targets, JOBS at a time (default 1), SECONDS each (default 20), under the
# sanitizers: first what was found before (tests/fuzz/found), then from seeds made of the examples, and from the
# corpus that earlier runs left under build. ONLY='NAME ...' runs some. A finding is left in the
# folder of the target; it belongs into tests/fuzz/found/NAME once it is mended.
export LC_ALL=C TZ=UTC OPENBLAS_NUM_THREADS=1
B=${B:-build/fuzz}
case $B in /*) ;; *) B=$(pwd)/$B ;; esac
here=$(pwd)/tests/fuzz
seconds=${SECONDS_EACH:-20}

# Seeds: the examples' files one by one, whole folders, layouts of sheets, the command lines of
# tests/fault/runs.
seeds()
{
    mkdir -p "$1"
    case $name in
    settings | readings | work | sag)
        file=$name.csv
        [ "$name" != settings ] || file=job.ini
        for job in examples/*/ "$B/sheets"; do
            [ ! -e "$job/$file" ] || head -c 3000 "$job/$file" >"$1/$(basename "$job")"
        done
        ;;
    folder)
        for job in examples/*/ "$B/sheets"; do
            for file in job.ini readings.csv work.csv sag.csv; do
                [ ! -e "$job/$file" ] || head -n 40 "$job/$file"
                [ $file = sag.csv ] || echo @@
            done >"$1/$(basename "$job")"
        done
        ;;
    command)
        grep -E '^(reads|writes|adds) ' tests/fault/runs | sed 's/^[a-z]* //; s/JOB/./; s/OUT.//' |
            while read -r line; do
                echo "$line" | tr ' ' '\n' | head -c -1 >"$1/$(echo "$line" | tr -c 'a-z\n' -)"
            done
        ;;
    sheet)
        cp tests/fault/sheet.csv "$1/plain"
        printf '%s\n' pair,A/B,B/C turn,0,90 diameter,0,45 unit,nm,fringe -50,1,2 0,,3 50,5, \
            >"$1/pairs"
        printf '%s\n' 'bottom;A' 'top;B' 'scan;x' 'round;2' '-50;1,5' '50;2' '' 'top;C' '0;1' \
            >"$1/blocks"
        printf '%s\n' 'lower;upper;rotation;angle;station (cm);nm;note;skip' 'A;B;0;0;1,5;7;x;' \
            'A;B;0;0;2;8;;1' >"$1/names"
        ;;
    dialog) printf 'a b\n0\n0\n\n-50 1\n0 2\n50 3\n.\n' >"$1/plain" ;;
    esac
}

# One target: first what was found before, then SECONDS of new bytes; a line of what came of it.
fuzz()
{
    name=$1 status=0
    target=$B/tests/fuzz/$name
    corpus=$B/corpus/$name
    log=$B/corpus/$name.log
    limit=10 fds=0
    case $name in # whole plans are reckoned, a tenth as fast as without sanitizers
    command) limit=60 fds=3 ;; # of its screens nothing is looked at
    folder) limit=60 ;;
    esac
    mkdir -p "$corpus" "$B/found/$name"
    seeds "$B/seeds/$name"
    for old in "$here/found/$name"/*; do
        [ ! -e "$old" ] || "$target" "$old" >"$log" 2>&1 || { status=1; break; }
    done
    [ $status -ne 0 ] ||
        "$target" -max_total_time="$seconds" -timeout=$limit -rss_limit_mb=4000 -max_len=4096 \
            -dict="$here/words.dict" -artifact_prefix="$B/found/$name/" -print_final_stats=1 \
            -verbosity=1 -close_fd_mask=$fds "$corpus" "$B/seeds/$name" >"$log" 2>&1 || status=$?
    if [ $status -eq 0 ]; then
        awk -v name="$name" '/^stat::number_of_executed_units/ { n = $2 }
            / cov: / { for (i = 1; i < NF; i++) if ($i == "cov:") c = $(i + 1) }
            END { printf "%-9s %9d runs, %5d edges reached, nothing found\n", name, n, c }' "$log"
    else
        echo "FAIL $name, status $status"
        tail -n 60 "$log"
    fi
}

if [ $# -eq 1 ]; then
    fuzz "$1"
    exit
fi
rm -rf "$B/sheets"
"$B/flatwright" new "$B/sheets" >/dev/null 2>&1
said=$(mktemp) || exit 1
trap 'rm -f "$said"' EXIT
all=$(basename -s .c "$here"/*.c | grep -vx place)
for name in ${ONLY:-$all}; do
    echo "$name"
done | xargs -n 1 -P "${JOBS:-1}" "$0" | tee "$said"
passed=$(grep -c ', nothing found$' "$said")
failed=$(($(echo ${ONLY:-$all} | wc -w) - passed))
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
