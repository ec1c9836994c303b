# A new job is laid whole, is good as it stands, and is never laid over another.
try new trio
ls -A trio
try check trio
try check --json trio
echo mine >trio/work.csv
try new trio
cat trio/work.csv
mkdir here && echo mine >here/sag.csv
try new here
ls -A here
mkdir empty
try new empty/
ls -A empty | wc -l | tr -d ' '
touch file
try new file
try new no/such/folder
echo '# a full disk, by a limit on the size of files'
(trap '' XFSZ; ulimit -f 0; "$FLATWRIGHT" new full 2>&1; echo "[$?]") | cat
ls -d full 2>/dev/null
