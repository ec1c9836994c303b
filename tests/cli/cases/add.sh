# Readings typed without a terminal, taken from a file, left out when they are known.
"$FLATWRIGHT" new trio >/dev/null
typed() { printf '%s\n' "$@" >.in; echo "$ flatwright add trio"; "$FLATWRIGHT" add trio <.in 2>.err
    echo "[$?]"; grep -E '!|fit|order|under|wanted' .err; grep -v '^#' trio/readings.csv; }
typed 'A B' 0 0 '-90 -45 0 45 90' t '.1a 3/20 ,2' ba 0.25t 30nm stop
typed 5/ 9 '' list flip '' 'B C' zero 0 x ''
echo '# the end of the input in the middle of a line'
printf 'B C\n0\n0\n\n.1\n.2' | "$FLATWRIGHT" add trio 2>/dev/null; echo "[$?]"
tail -n 1 trio/readings.csv
printf '%s\n' 'pair;C/A;' 'turn;0;90' 'diameter;0;45' '-90;0,1;0,2' '90;0;x' >sheet.csv
try add trio --from sheet.csv
sed -i 's/x/-0,5/' sheet.csv
try add trio --from sheet.csv
try add trio --from sheet.csv --yes --round 2
try add trio --from sheet.csv --yes --round 2
try add trio --from sheet.csv --yes --round 2 --unit um
try check trio
echo '# what the table has no column for'
printf '%s\n' 'scan,sigma,bottom,top,turn,diameter,position,nm' '2,1,A,B,0,0,45,1' >table.csv
try add trio --from table.csv --yes
try add trio --from table.csv --yes
grep -v '^#' trio/readings.csv | sed -n '1,2p;$p'
try add trio --yes
try add trio --from none.csv
try add trio --round 0
try add trio --unit ell --from sheet.csv
echo '# a pipe in the place of the table, a full disk, a folder that may not be written'
mkfifo pipe
try add trio --from pipe
cp trio/readings.csv before
(trap '' XFSZ; ulimit -f 0; "$FLATWRIGHT" add trio --from sheet.csv --round 3 --yes 2>&1 >/dev/null
    echo "[$?]") | cat
cmp before trio/readings.csv && ls -A trio
echo '# an input that cannot be read is not at its end'
"$FLATWRIGHT" add trio <trio 2>.err >.out; echo "[$?]"; tail -n 1 .err; cat .out
