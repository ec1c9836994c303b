# coverage.awk - what gcov -b says, a line a source: lines reached, branches taken; the library's sum.
BEGIN { FS = "['%: ]+" }
/^File/ { file = $2 ~ /^src\// ? $2 : "" }
/^Lines executed/ && file { lines = $NF; line_part = $3; branches = branch_part = 0 }
/^No branches/ && file { tell() }
/^Taken at least once/ && file { branches = $NF; branch_part = $5; tell() }
function tell()
{
    printf "%6.1f %% of %4d lines  %6.1f %% of %4d branches  %s\n", line_part, lines,
        branches ? branch_part : 100, branches, file
    if (file !~ /^src\/cli\//) {
        all_lines += lines; hit_lines += line_part * lines / 100
        all_branches += branches; hit_branches += branch_part * branches / 100
    }
    file = ""
}
END {
    if (all_lines)
        printf "%6.1f %% of %4d lines  %6.1f %% of %4d branches  in all but src/cli\n",
            100 * hit_lines / all_lines, all_lines, 100 * hit_branches / all_branches, all_branches
}
