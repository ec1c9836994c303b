#!/bin/sh
# Files that are not what they should be, and output that nobody takes: a closed or full standard
# output for every command; in place of each file of a job a folder, a pipe, a device, links, 5 GB,
# a file that grows while it is read; folders and files without permission. Nothing may wait, crash
# or be changed; TELL=1: times.
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

# Folders and files without permission, met by a user who is not root: what reads is served, what
# would write ends with status 3 and one line, and nothing is changed.
as_user=
if [ "$(id -u)" = 0 ]; then as_user="setpriv --reuid 65534 --regid 65534 --clear-groups"; fi
chmod 755 "$work"
cp "$program" "$work/program"
as_user()
{
    status=0
    $as_user timeout $seconds "$work/program" "$@" >"$work/printed" 2>"$work/err" \
        <"$here/typed" || status=$?
}
lay
for command in check solve "solve --json" next track export; do
    "$program" $command "$work/job" >"$work/want-$(echo "$command" | tr -d ' ')"
done
cp "$here/sheet.csv" "$work/sheet.csv"
for what in folder file unreadable closed; do
    lay
    chmod -R a+rX "$work/job" "$work/out"
    reads=0 writes=3
    case $what in
    folder) chmod 555 "$work/job" "$work/out" ;;
    file) chmod 777 "$work/job"; chmod 444 "$work/job"/*; chmod 555 "$work/out" ;;
    unreadable) chmod 000 "$work/job/readings.csv"; chmod 555 "$work/out"; reads=3 ;;
    closed) chmod 000 "$work/job" "$work/out"; reads=3 ;;
    esac
    snapshot >"$work/before"
    for command in check solve "solve --json" next track export; do
        as_user $command "$work/job"
        [ $status = $reads ] || echo "$command: status $status: $(cat "$work/err")" >>"$work/bad"
        [ $reads = 3 ] || cmp "$work/printed" "$work/want-$(echo "$command" | tr -d ' ')" >>"$work/bad"
        [ $reads = 0 ] || [ "$(wc -l <"$work/err")" = 1 ] || cat "$work/err" >>"$work/bad"
    done
    for command in "add $work/job" "add $work/job --from $work/sheet.csv --yes" \
        "new $work/out/trio" "new $work/out" "report $work/job -o $work/out/page.html" \
        "export $work/job -o $work/out/heights.csv"; do
        as_user $command
        [ $status = $writes ] && tr -s '\n ' ' ' <"$work/err" | grep -q 'ermission denied' ||
            echo "$command: status $status: $(cat "$work/err")" >>"$work/bad"
    done
    snapshot | diff "$work/before" - >>"$work/bad"
    chmod -R u+rwX "$work/job" "$work/out"
    verdict "no permission: $what"
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
