#!/bin/sh
# Files that are not what they should be, and output that nobody takes: a closed or full standard
# output for every command; in place of each file of a job a folder, a pipe, a device, links, 5 GB,
# and a file that grows while it is read. Nothing may wait, crash or be changed; TELL=1: times.
. "${0%/*}/lib.sh"
seconds=20 # for one run


# Names and sizes only: the contents of a pipe cannot be read, 5 GB take too long.
snapshot_names()
{
    (cd "$work" && find job out -printf '%p %y %s\n' | sort)
}

while read -r kind line; do
    case $kind in reads | writes | adds) place "$line" ;; *) continue ;; esac
    for where in full closed; do
        lay
        status=0
        if [ $where = full ]; then
            timeout $seconds "$program" $arguments >/dev/full 2>"$work/err" \
                <"$here/typed" || status=$?
        else
            timeout $seconds "$program" $arguments >&- 2>"$work/err" \
                <"$here/typed" || status=$?
        fi
        case $arguments in *" -o "*) [ $status = 0 ] && continue ;; esac
        [ $status = 3 ] && grep -q '^flatwright: cannot write the output: ' "$work/err" ||
            { echo "status $status: $(cat "$work/err")" >>"$work/bad"; }
        verdict "$line, output $where"
    done
done <"$here/runs"

for file in job.ini readings.csv work.csv sag.csv; do
    place_of=$work/job/$file
    for what in folder pipe device zeros null loop nowhere link huge blank; do
        lay
        rm -f "$place_of"
        want=2
        case $what in
        folder) mkdir "$place_of" ;;
        pipe) mkfifo "$place_of" ;;
        device) ln -s /dev/tty "$place_of" ;;
        zeros) ln -s /dev/zero "$place_of" ;;
        null) ln -s /dev/null "$place_of" ;;
        loop) ln -s "$file" "$place_of" ;;
        nowhere) ln -s nothing "$place_of" ;;
        link)
            [ -e "$example/$file" ] || continue
            cp "$example/$file" "$work/elsewhere"
            ln -s ../elsewhere "$place_of"
            want=0
            ;;
        huge)
            cp "$example/$file" "$place_of" 2>/dev/null
            truncate -s 5G "$place_of"
            ;;
        blank) truncate -s 5G "$place_of" ;;
        esac
        # A link to a table that is not there is a table that is not there.
        [ $what != nowhere ] || case $file in work.csv | sag.csv) want="[02]" ;; esac
        began=$(date +%s%N)
        for command in check "solve --json"; do
            status=0
            snapshot_names >"$work/before"
            timeout $seconds "$program" $command "$work/job" >"$work/printed" 2>"$work/err" \
                </dev/null || status=$?
            snapshot_names | diff "$work/before" - >>"$work/bad"
            case $status in $want) ;; *) echo "$command: status $status" >>"$work/bad" ;; esac
            [ $status = 0 ] || grep -q "$file" "$work/err" || cat "$work/err" >>"$work/bad"
        done
        [ -z "$TELL" ] || echo "$file $what $((($(date +%s%N) - began) / 1000000)) ms"
        verdict "$file: $what"
    done
done

# Rows are added while others are read: each run sees a whole number of them, or says where not.
lay
(i=0; while [ $i -lt 200 ]; do
    printf 'A,B,0,0,%d,1\n' $((i % 90))
    i=$((i + 1))
done >>"$work/job/readings.csv") &
writer=$!
while :; do
    alive=yes
    kill -0 $writer 2>/dev/null || alive=
    status=0
    timeout $seconds "$program" check "$work/job" >"$work/printed" 2>"$work/err" || status=$?
    case $status in 0 | 2) ;; *) { echo "status $status"; cat "$work/err"; } >>"$work/bad" ;; esac
    [ -n "$alive" ] || break
done
verdict "a file that grows while it is read"
finish
