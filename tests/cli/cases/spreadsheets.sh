# Tables as spreadsheets save them.
good_job
sed -i 's/^bore.*/&\n[readings]\nsigma = 2/' job/job.ini
echo '# byte order mark, CR LF, padding, quoted comment, empty rows'
printf '\357\273\277"# saved, elsewhere",,,,,,,,\r\n"bottom","top",turn_deg,diameter_deg,position_mm,deviation,note,,\r\nA,B,0,0,-90,1,"5"" off, ""maybe""",,\r\nA,B,0,0,90,2,"two\r\nlines",,\r\n,,,,,,,,\r\n\r\n' >job/readings.csv
try check job
echo '# semicolons and decimal commas'
printf 'sep=;\r\nbottom;top;turn_deg;diameter_deg;position_mm;deviation;sigma;skip\r\nA;B;0;22,5;-90,5;1,25;0,5;\r\nA;B;0;22.5;90.5;2;;0\r\nA;B;0;202.5;-90.5;99;;1\r\nA;B;0;202.5;-90.5;2;;\r\n;;;;;;;\r\n' >job/readings.csv
try check job --json
try check job
echo '# carriage returns only'
printf 'bottom,top,turn_deg,diameter_deg,position_mm,deviation\rA,B,0,0,-90,1\rA,B,0,0,90,2' >job/readings.csv
try check job
echo '# job.ini from another system'
printf '\357\273\277[set]\r\n  flats = A B\r\n  diameter = 8 in ; about 200 mm\r\n' >job/job.ini
try check job
