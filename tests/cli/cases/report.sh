# report: a page, one picture, the names of all; what it says when asked for what is not there.
cp -R "$ROOT/examples/aurora" aurora
try report aurora -o page.html
head -c 15 page.html; echo
# as many pictures as it has; those of the plan's strokes are its own affair
[ "$(grep -c '<figure>' page.html)" -eq "$("$FLATWRIGHT" report aurora --list | wc -l)" ] && echo "all"
"$FLATWRIGHT" report aurora | cmp - page.html && echo "the same on standard output"
try report aurora --list | grep -v ^work-
try report aurora --picture face-Ash -o ash.svg
head -c 5 ash.svg; echo
"$FLATWRIGHT" report aurora -P face | grep -o '<svg' | wc -l
try report aurora --picture fact-Ash
try report aurora --picture
try report aurora -o nowhere/page.html
ls
cp -R "$ROOT/examples/page" one
try report one --list | grep -v ^work-
try report one --picture face
try report one -o one.html
# a title of 10 kB with everything in it that could be taken for markup
long=$(awk 'BEGIN { for (i = 0; i < 600; i++) printf "<i>&amp;\"x\" \360\237\224\255 \327\251" }')
sed "s/^title .*/title = TITLE/" aurora/job.ini >job.new
awk -v t="$long" '{ i = index($0, "TITLE"); if (i) print substr($0, 1, i - 1) t; else print }' \
    job.new >aurora/job.ini
try report aurora -o long.html
grep -c '<i>' long.html
