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
echo '# where the list is not what was asked for: three of a kind, and how many more'
try solve job
good_job
awk 'BEGIN { for (i = 0; i < 4; i++) { print "A,B,0,0," i ",1" i "x"; print "A,D,0,0," i ",1" } print "A" }' >>job/readings.csv
try job
try add job --from job/readings.csv
printf 'A,B,0,0,60,2x\nA,B,0,0,60,3y\n' >>job/readings.csv
sed -i 's/^flats.*/flats = A B C/; s/^diameter.*/diameter = x/' job/job.ini
try solve job
try rehearse job
