# Output that does not get through is a failure; faults go to standard error whatever happens.
good_job
"$FLATWRIGHT" check job >/dev/full
echo "[$?]"
"$FLATWRIGHT" --help >/dev/full
echo "[$?]"
"$FLATWRIGHT" check job >&-
echo "[$?]"
"$FLATWRIGHT" new laid >&- 2>&-
echo "[$?]"
"$FLATWRIGHT" check laid | head -1
echo 'A,D,0,0,1,1' >>job/readings.csv
"$FLATWRIGHT" check job 2>/dev/full
echo "[$?]"
