#!/bin/sh
# Every call of every command to the system about files fails once, in each way it can: no
# permission, disk full, broken off by a signal, done by half, an error of the device. The program
# must end with status 3 and one line that says so, or get through and print what it always prints;
# the user's files are as before, or complete, and no draft is left. files.c makes the calls fail.
. "${0%/*}/lib.sh"
inject=$B/tests/fault/files
faults=0
"$inject" list /bin/true >/dev/null 2>&1
[ $? -ne 77 ] || { echo "not on this machine; 1 passed, 0 failed"; exit 0; }

# The lines 'N FAULT CALL exitSTATUS before|complete|changed same|other MESSAGE' of a run.
faulty()
{
    lay
    snapshot >"$work/before"
    "$program" $arguments >"$work/want" 2>/dev/null <"$here/typed"
    snapshot >"$work/after"
    lay
    "$inject" list "$program" $arguments >"$work/list" 2>/dev/null <"$here/typed"
    lay
    while read -r n fault call; do
        [ ! -e "$work/dirty" ] || lay
        status=0 printed=other
        timeout 60 "$inject" "$n" "$fault" "$program" $arguments >"$work/printed" \
            2>"$work/err" <"$here/typed" || status=$?
        snapshot >"$work/now"
        # A draft, or a lock, whose removal failed has to stay.
        [ "$call" != unlink ] || sed -i '/\.draft-/d' "$work/now"
        [ "$call" != unlink ] || sed -i '/\.adding$/d' "$work/now"
        files=$(state_of "$kind")
        : >"$work/dirty"
        ! cmp -s "$work/now" "$work/before" || rm "$work/dirty"
        cmp -s "$work/printed" "$work/want" && printed=same
        echo "$n $fault $call exit$status $files $printed" \
            "$(tr '\n' '|' <"$work/err" | sed 's/|$//')"
    done <"$work/list" >"$work/log"
}

while read -r kind line; do
    case $kind in reads | writes | adds) place "$line" ;; *) continue ;; esac
    faulty
    # That the printing failed cannot be put right; that a folder could not be synced is no failure.
    # A talk takes another turn where something could not be read, and may end well; no row is lost.
    awk -v kind="$kind" '
         kind == "adds" && $4 ~ /^exit[023]$/ && $5 != "changed" { next }
         $4 == "exit3" && $5 != "changed" && /(flatwright|[a-z]+\.(ini|csv)): [^|]*(\|added [^|]*)?$/ { next }
         $4 == "exit0" && $5 == "complete" && $6 == "same" { next }
         { print }' "$work/log" >>"$work/bad"
    [ -s "$work/log" ] || echo "no fault was tried" >>"$work/bad"
    faults=$((faults + $(wc -l <"$work/log")))
    [ -z "$TELL" ] || echo "$(wc -l <"$work/log") faults: $line"
    verdict "$line"
done <"$here/runs"
echo "$faults faults"
finish
