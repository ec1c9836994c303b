# Folders and files that are not what they should be; none of them makes the program wait.
try check nowhere
touch file
try check file
try check ''
good_job
rm job/readings.csv && mkdir job/readings.csv
try check job
rmdir job/readings.csv && mkfifo job/readings.csv
try check job
rm job/readings.csv && ln -s /dev/zero job/readings.csv
try check job
good_job
rm job/job.ini && mkfifo job/job.ini
try check job
good_job
ln -s nothing job/work.csv
try check job
printf 'name\033[1m' >.name
mkdir "$(cat .name)"
try check "$(cat .name)"
