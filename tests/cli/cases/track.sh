# Three plates while they are ground; and a set where nothing is known yet. All data invented.
good_job
echo 'bottom,top,turn_deg,diameter_deg,position_mm,deviation' >job/readings.csv
try track job --words
printf '%s\n' 'round,flat,hours,method' '1,A,1,grind' '1,C,0.5,grind' >job/work.csv
printf '%s\n' 'round,flat,ring_mm,sag_um,sigma_um' '1,A,50,1.5,0.05' '1,B,50,-0.1,0.05' \
    '1,C,50,-1.0,0.05' '2,A,50,0.75,0.05' >job/sag.csv
try track job | grep -E '^(Grind|[ABC], )'
echo '2,C,50,-0.5,0.05' >>job/sag.csv
try track job
echo '2,C,50,-30000,0.05' >>job/sag.csv
try track job
try track job --jsn
