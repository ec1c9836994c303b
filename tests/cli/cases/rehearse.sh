# A measuring plan before any reading: the job needs no readings.
good_job && rm job/readings.csv
# Numbers cut: their last digits hang on the machine.
cut() { sed 's/\(\.[0-9][0-9]\)[0-9]*/\1/g'; }
trio='--pair A:B --pair B:C --pair C:A'
try rehearse job $trio --diameters 1 --stations 9 --sigma 1nm
try rehearse job $trio --pair A:B --turn 90 --sigma 1nm --json | cut
try rehearse job $trio --sigma 1nm --stations -80,-40,40,80
try rehearse job $trio --pair A:B:60 --repeats 2 --sigma 0.01 -d 0,60,120 -s 7 --words
try rehearse job --sigma 1nm --diameters 4 --stations 9
try rehearse job $trio --pair A:B:47 --sigma 1nm --diameters 3,29,56,80,107,131,158 --model surface
try rehearse job $trio --sigma 1nm --model surface --json | cut
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
try rehearse job $trio --sigma 1nm --model flat
try rehearse nowhere
echo '# as good as no light'
sed -i '/light/,/source/d' job/job.ini
try rehearse job $trio --sigma 0.02fringe
echo '# made-up readings: into a job without readings, or a folder of its own; never over any'
good_job
cp -R job real
try rehearse real $trio -d 1 -s 9 --sigma 1nm --seed 7
cmp job/readings.csv real/readings.csv && cmp job/job.ini real/job.ini && ls real
try rehearse job $trio -d 1 -s 9 --sigma 1nm --seed 7 -o practice
ls practice && grep -c model practice/job.ini
head -n 6 practice/readings.csv && grep -n title practice/job.ini
try check practice
try solve practice --words
grep PV practice/truth.csv
try rehearse job $trio -d 1 -s 9 --sigma 1nm --seed 8 -o practice
try rehearse job $trio -d 1 -s 9 --sigma 1nm --seed x -o other
try rehearse job $trio -d 1 -s 9 --sigma 1nm -o other
try rehearse job $trio -d 1 -s 9 --sigma 1nm --seed 7 -o no/such
try new empty && try rehearse empty $trio -d 1 -s 9 --seed 7 --json | cut
try rehearse empty $trio -d 1 -s 9 --seed 8
echo 1,A,0.5,lap-on-top,,,,, >>empty/work.csv
try rehearse empty -p C:A -d 1 -s 9 --seed 7 --json
grep -v '^#' empty/readings.csv | sed '2,27d' && head -n 5 empty/truth.csv
ls -a
