#!/bin/sh
# Every request for memory of every command is refused once, alone and with all that follow. The
# program must say so in one line and end with status 3, or do without and print what it always
# prints; no leak (under MODE=asan), no file changed, no half of one. memory.c does the refusing.
# Tried are: the first DENSE requests, each STRIDE-th, and the first of each chain of three callers
# that no run before had.
. "${0%/*}/lib.sh"
export FAULT_DENSE=${DENSE:-40} FAULT_STRIDE=${STRIDE:-211} FAULT_SEEN="$work/seen"
preload=$(cd "$B" && pwd)/tests/fault/memory.so
walks=0

# Commands that only read fork at each request; the log has the lines of memory.c.
walk()
{
    lay
    : >"$work/printed"
    rm -rf "$work/walk" && mkdir "$work/walk"
    "$program" $arguments >"$work/walk/want" 2>/dev/null </dev/null
    snapshot >"$work/before"
    env LD_PRELOAD="$preload" FAULT_WALK="$work/walk" \
        "$program" $arguments 1<>"$work/printed" 2>"$work/err" <"$here/typed" || :
    snapshot | diff "$work/before" - >>"$work/bad"
    cp "$work/walk/log" "$work/log"
}

# Commands that write run once a fault; their files must be as before, or complete.
repeat()
{
    lay
    snapshot >"$work/before"
    env LD_PRELOAD="$preload" FAULT_LIST="$work/list" "$program" $arguments \
        >/dev/null 2>&1 <"$here/typed"
    snapshot >"$work/after"
    while read -r n; do
        for all in one all; do
            lay
            status=0
            env LD_PRELOAD="$preload" FAULT_AT="$n" $([ $all = one ] || echo FAULT_ALL=1) \
                timeout 60 "$program" $arguments >"$work/printed" 2>"$work/err" \
                <"$here/typed" || status=$?
            snapshot >"$work/now"
            whole=$(state_of "$kind")
            echo "$n $all exit$status $whole $(tr '\n' '|' <"$work/err" | sed 's/|$//')"
        done
    done <"$work/list" >"$work/log"
}

forgotten | sed 's/$/ has no run in tests\/fault\/runs/' >"$work/bad"
verdict commands
while read -r kind line; do
    case $kind in reads | writes | adds) place "$line" ;; *) continue ;; esac
    if [ "$kind" = reads ]; then walk; else repeat; fi
    # A complete run may have talked; a failed one says one thing, about memory.
    # A talk takes another turn where something could not be had, and may end well; no row is lost.
    awk -v kind="$kind" '
         kind == "adds" && $3 ~ /^exit[03]$/ && $4 != "changed" { next }
         $3 == "exit3" && $4 != "changed" && /[ |]flatwright: [^|]*memory[^|]*(\|added [^|]*)?$/ { next }
         $3 == "exit0" && $4 == "complete" { next }
         { print }' "$work/log" >>"$work/bad"
    [ -s "$work/log" ] || echo "no fault was tried" >>"$work/bad"
    walks=$((walks + $(wc -l <"$work/log")))
    [ -z "$TELL" ] || echo "$(wc -l <"$work/log") faults: $line"
    verdict "$line"
done <"$here/runs"
echo "$walks faults"
finish
