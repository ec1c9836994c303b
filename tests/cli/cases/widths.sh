# No line is wider than 80 columns: of every --help, of what is said of wrong usage, and of all that
# every command prints in words, of both models, on every example, on made-up ones, and while
# grinding. Tables for files, JSON, pages and the shells' completion are no screens.
narrow()
{
    title=$1
    shift
    runs=$((runs + 1))
    status=0
    "$FLATWRIGHT" "$@" >out 2>err </dev/null || status=$?
    # a path is the user's: not counted
    awk -v title="$title" '{ gsub(/[^ ]*\/[^ ]*/, "JOB") } length > 80 { print title ": too wide: " $0 }' out err
}
done_well()
{
    narrow "$@"
    [ $status -eq 0 ] || echo "$1: status $status: $(cat err)"
    [ -s out ] || echo "$1: nothing was said"
}

runs=0
commands=$("$FLATWRIGHT" --help | sed -n '/^commands:/,/^$/s/^  \([a-z]*\) .*/\1/p')
done_well --help --help
done_well 'JOB --help' . --help
"$FLATWRIGHT" 2>&1 | awk 'length > 80 { print "no words: too wide: " $0 }'
for command in $commands; do
    done_well "$command --help" "$command" --help
    for version in --version -V; do
        done_well "$command $version" "$command" $version
        grep -qx 'flatwright [0-9.]*' out || echo "$command $version: $(cat out)"
    done
    for wrong in --nosuchoption -~ 'one two' --help=yes ''; do
        narrow "$command $wrong" "$command" $wrong
    done
    # every option that takes a value, without one, and with one that is none
    for option in $("$FLATWRIGHT" "$command" --help |
        sed -n 's/^  \(-., \)\{0,1\} *\(--[a-z-]*\) [A-Za-z].*/\2/p'); do
        narrow "$command $option" "$command" "$ROOT/examples/page" "$option"
        narrow "$command $option ." "$command" "$ROOT/examples/page" "$option" .
    done
done

cp -R "$ROOT/examples" .
mkdir examples/ground examples/typed
printf '%s\n' '[set]' 'flats = Left Middle Right' 'diameter = 200 mm' >examples/ground/job.ini
printf 'round,flat,ring_mm,sag_um,sigma_um\n1,Left,80,25,1\n1,Middle,80,-12,1\n1,Right,80,14,1\n' \
    >examples/ground/sag.csv
printf 'bottom,top,turn_deg,diameter_deg,position_mm,deviation\n' >examples/ground/readings.csv
printf 'round,flat,hours,method\n' >examples/ground/work.csv
"$FLATWRIGHT" new examples/typed >/dev/null
"$FLATWRIGHT" rehearse examples/aurora -d 3 -s 9 --model surface -p Ash:Birch -p Birch:Cedar \
    -p Cedar:Ash -p Ash:Birch:50 --sigma 2nm --seed 3 -o examples/madeup >/dev/null 2>&1
"$FLATWRIGHT" next examples/madeup --rows >rows 2>/dev/null && sed '/^round/d' rows >>examples/madeup/work.csv
for job in examples/*/job.ini; do
    job=$(dirname "$job")
    for line in '' check solve 'solve --budget' next track; do
        done_well "$line $job" ${line%% *} "$job" $(echo "$line" | sed -n 's/^[^ ]* //p')
        [ "$line" = check ] || [ "$line" = 'solve --budget' ] ||
            done_well "$line $job --words" ${line%% *} "$job" --words
    done
    for model in profile surface; do
        narrow "--model $model $job" "$job" --model $model
        narrow "solve --model $model $job" solve "$job" --model $model --budget
        narrow "next --model $model $job" next "$job" --model $model
    done
    narrow "report --list $job" report "$job" --list
    pair=$(sed -n 's/^flats *= *\([^ ]*\) *\([^ ]*\).*/\1:\2/p' "$job/job.ini")
    done_well "rehearse $job" rehearse "$job" --pair "$pair" --diameters 3 --stations 5 --sigma 2nm
done
done_well 'rehearse, a search' rehearse examples/page --diameters 1 --stations 7 --sigma 1nm
done_well glasses glasses
done_well lights lights
[ $runs -gt 150 ] || echo "only $runs runs"
