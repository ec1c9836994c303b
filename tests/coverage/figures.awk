# figures.awk - what gcov -t -b -c tells, a line a source and a folder, and whether it is enough.
# Reads tests/coverage/unreached first: FILE:FUNCTION:LINES:BRANCHES:REASON, that many may be missed in
# it. MISSED=1 prints what is missed and not listed there, by function. Ends with status 1 when, these
# apart, less than 98 % of the lines or 95 % of the branches of src/ without src/cli are reached.
BEGIN { FS = ":"; folder = "" }
FNR == NR {
    if (!/^#/ && NF >= 5) {
        may_lines[$1 ":" $2] = $3
        may_branches[$1 ":" $2] = $4
    }
    next
}
/^ *-: *0:Source:/ { file = $NF ~ /^src\/.*\.c$/ ? $NF : ""; name = ""; files[++nfiles] = file; next }
file == "" { next }
/^function / { split($0, word, " "); name = file ":" word[2]; next }
/^branch / {
    branches[file]++
    if (/never executed$/ || /taken 0( |$)/) {
        no_branches[file]++
        missed_branches[name]++
    }
    next
}
/^ *[0-9#=][0-9#=*]*: *[0-9]+:/ {
    lines[file]++
    if ($1 ~ /#|=/) {
        no_lines[file]++
        missed_lines[name]++
    }
}
function part(missed, all) { return all ? 100 * (all - missed) / all : 100 }
function tell(what, l, ml, b, mb)
{
    printf "%6.1f %% of %5d lines  %6.1f %% of %5d branches  %s\n", part(ml, l), l, part(mb, b), b, what
}
function least(a, b) { return a < b ? a : b }
END {
    for (i = 1; i <= nfiles; i++) {
        f = files[i]
        if (f == "")
            continue
        tell(f, lines[f], no_lines[f], branches[f], no_branches[f])
        d = f
        sub(/\/[^\/]*$/, "", d)
        if (!(d in l))
            folders[++nfolders] = d
        l[d] += lines[f]; ml[d] += no_lines[f]; b[d] += branches[f]; mb[d] += no_branches[f]
    }
    for (i = 1; i <= nfolders; i++) {
        d = folders[i]
        tell(d, l[d], ml[d], b[d], mb[d])
        if (d != "src/cli") {
            al += l[d]; aml += ml[d]; ab += b[d]; amb += mb[d]
        }
    }
    if (!al) {
        print "nothing was measured"
        exit 1
    }
    tell("in all but src/cli", al, aml, ab, amb)
    for (f in missed_lines)
        listed_lines += least(missed_lines[f], may_lines[f] + 0)
    for (f in missed_branches)
        listed_branches += least(missed_branches[f], may_branches[f] + 0)
    tell("the listed ones apart", al, aml - listed_lines, ab, amb - listed_branches)
    if (ENVIRON["MISSED"])
        for (f in missed_branches)
            if (f !~ /^src\/cli/ && (missed_lines[f] > may_lines[f] || missed_branches[f] > may_branches[f]))
                printf "%s:%d:%d\n", f, missed_lines[f], missed_branches[f] | "sort"
    if (part(aml - listed_lines, al) < 98 || part(amb - listed_branches, ab) < 95) {
        print "too little: 98 % of the lines and 95 % of the branches are wanted"
        exit 1
    }
}
