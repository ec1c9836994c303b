#!/bin/sh
# The worked session of flatwright-session(7): a made-up set worked from a new job until the program
# says stop, its advice followed round by round. It is run, and must read as the page does; BLESS=1
# (`make session`) writes the page anew. It must end in stop within LAST rounds, whatever it reads like.
export LC_ALL=C TZ=UTC NO_COLOR=1 OPENBLAS_NUM_THREADS=1 OPENBLAS_CORETYPE=Haswell
top=$(pwd)
program=${FLATWRIGHT:-$top/build/release/flatwright}
seed=${SEED:-66} LAST=${LAST:-16}
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
PATH=$(dirname "$program"):$PATH
cd "$work" || exit 1
exec 3>&1 >"$work/page"

# The lines as roff takes them: no backslash and no dot at the beginning means anything.
plain() { sed 's/\\/\\e/g; s/-/\\-/g; s/^[.'\'']/\\\&&/'; }

say() { printf '%s\n' "$@"; }
par() { say .Pp "$@"; }

# Runs a command as it is shown; a line that is long goes on in a second one.
run()
{
    say '.Bd -literal -offset 2n'
    printf '$ %s\n' "$1" | plain
    sh -c "$1" 2>&1 </dev/null | plain
    say '.Ed'
}

# A reading of pairings, all by one plan; what the plan promises has been shown at the beginning.
read_pairs()
{
    run "flatwright rehearse set $1 \\
    -d 8 -s 17 -u 1nm -n $seed >plan"
}

all='-p A:B -p B:C -p C:A -p A:B:157.5 -p B:C:67.5'
advised() { flatwright next set --json | sed -n "s/^  \"$1\": \"*\([a-z0-9]*\).*/\1/p"; }

cat <<'E2'
.\" Written by tests/session.sh: change it there, then `make session`.
.Dd November 25, 2026
.Dt FLATWRIGHT-SESSION 7
.Os
.Sh NAME
.Nm flatwright-session
.Nd a set of flats worked in practice, from a new job until it is finished
.Sh DESCRIPTION
Three made-up flats are read, judged and worked as
.Xr flatwright 1
advises, until it says stop.
Everything here is invented: the flats, the errors of 1 nm of who reads them,
and the hand that works them.
All output is what the program prints; try it, or try another seed.
On a real set the same happens at the bench:
.Cm add
in place of
.Cm rehearse ,
and the rows of
.Pa work.csv
are what was done.
Slurry and dust stay wet, heavy glass is held with two hands, and local rules
come first.
.Sh A NEW JOB
E2
run 'flatwright new set'
par "Five pairings on eight diameters: how sure will they be?" \
    'The seed makes up flats and reads them by that plan.'
read_pairs "$all"
run "sed -n '/^Expected/,\$p' plan"
par 'What are they like?'
run 'flatwright set'
say '.Sh ROUND BY ROUND' 'What comes next, the work written down, and once more to the bench.' \
    'The first spells are short ones: from what they take off the rate is learned.'
decision=$(advised decision) round=0
while [ "$decision" != stop ] && [ $round -lt "$LAST" ]; do
    run "flatwright next set | sed '/^\$/,\$d'"
    if [ "$decision" = work ]; then
        if [ "$round" -lt 2 ]; then # so that a row is seen
            run 'flatwright next set --rows | tee -a set/work.csv'
        else
            run 'flatwright next set --rows >>set/work.csv'
        fi
        read_pairs "$all"
    else
        read_pairs "-p $(flatwright next set --json | sed -n \
            's/.*"bottom": "\(.*\)", "top": "\(.*\)", "turn_deg": \([0-9.]*\),.*/\1:\2:\3/p' |
            head -n 1)"
    fi
    decision=$(advised decision) round=$(advised round)
done
say '.Sh FINISHED'
run 'flatwright set'
par 'How it went:'
run "flatwright track set | sed '/^\$/,\$d'"
par 'How it truly is, and a page for the file:'
run 'grep PV set/truth.csv'
run 'flatwright report set -o set.html'
cat <<'E2'
.Sh SEE ALSO
.Xr flatwright 1 ,
.Xr flatwright-job 5
E2

exec 1>&3
rows=$(grep -vc '^#' set/work.csv)
if [ "$decision" != stop ]; then
    echo "after $round rounds the set is not finished: $decision"
    exit 1
fi
if [ -n "$BLESS" ]; then
    cp page "$top/man/flatwright-session.7"
elif ! diff -u "$top/man/flatwright-session.7" page; then
    echo 'the page is not what the program prints: make session, and read the difference'
    exit 1
fi
echo "finished in round $round, $((rows - 1)) rows of work; 1 passed, 0 failed"
