# A measuring plan before any reading: the job needs no readings.
good_job && rm job/readings.csv
trio='--pair A:B --pair B:C --pair C:A'
try rehearse job $trio --diameters 1 --stations 9 --sigma 1nm
try rehearse job $trio --pair A:B --turn 90 --sigma 1nm --json
try rehearse job $trio --sigma 1nm --stations -80,-40,40,80
try rehearse job $trio --pair A:B:60 --repeats 2 --sigma 0.01 -d 0,60,120 -s 7 --words
try rehearse job --sigma 1nm --diameters 4 --stations 9
echo '# the plan is wrong'
try rehearse job $trio
try rehearse job --pair A:b --sigma 1nm
try rehearse job --pair A --sigma 1nm
try rehearse job --pair A:A --sigma 1nm
try rehearse job --pair A:B:x --sigma 1nm
try rehearse job --turn 45 --sigma 1nm
try rehearse job --pair A:B:45 --turn 90 --sigma 1nm
try rehearse job $trio --sigma 0
try rehearse job $trio --sigma 2mm
try rehearse job $trio --sigma 1nm --diameters 0
try rehearse job $trio --sigma 1nm --diameters 0,x
try rehearse job $trio --sigma 1nm --stations 0,120
try rehearse job $trio --sigma 1nm --stations 0,5
try rehearse job $trio --sigma 1nm --repeats 1.5
try rehearse job --sigma 1nm --repeats 2
try rehearse nowhere
echo '# as good as no light'
sed -i '/light/,/source/d' job/job.ini
try rehearse job $trio --sigma 0.02fringe
