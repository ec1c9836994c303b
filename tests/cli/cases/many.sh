# Thousands of faults: a thousand are listed, all are counted, twice the same.
good_job
awk 'BEGIN { for (i = 0; i < 2500; i++) print "A,D,0,0," i % 50 ",1" }' >>job/readings.csv
"$FLATWRIGHT" check job 2>first
echo "[$?]"
"$FLATWRIGHT" check job 2>second
cmp first second
head -2 first
tail -3 first
wc -l <first | tr -d ' '
