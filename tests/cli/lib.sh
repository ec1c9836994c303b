# lib.sh - what the cases share.

# Runs the program: the command, its output, its errors behind 2|, its status in [ ].
try()
{
    echo "$ flatwright $*"
    status=0
    "$FLATWRIGHT" "$@" >.out 2>.err || status=$?
    cat .out
    sed 's/^/2| /' .err
    echo "[$status]"
}

# Lays a good job: one file a function, from standard input or as it is here.
good_job()
{
    rm -rf job && mkdir job
    printf '%s\n' '[set]' 'flats = A B C' 'diameter = 200 mm' '[light]' 'source = mercury-green' \
        '[flat B]' 'bore = 30 mm' >job/job.ini
    printf '%s\n' 'bottom,top,turn_deg,diameter_deg,position_mm,deviation' 'A,B,0,0,-90,1' \
        'A,B,0,0,90,2' >job/readings.csv
}

# fault TITLE FILE: FILE of a good job becomes standard input; check must fail, with nothing said on
# standard output and a place named on standard error.
fault()
{
    good_job
    cat >"job/$2"
    echo "# $1"
    refused
}

refused()
{
    status=0
    "$FLATWRIGHT" check job >.out 2>.err || status=$?
    cat .err
    [ $status -eq 2 ] || echo "status $status, expected 2"
    [ ! -s .out ] || echo "output on standard output"
    grep -qE '^job(/[a-z.]+)?:([0-9]+:)*' .err || echo "no place named"
}

# A row, or rows, below the plain header.
row_fault()
{
    printf '%s\n' 'bottom,top,turn_deg,diameter_deg,position_mm,deviation' "$2" |
        fault "$1" readings.csv
}
