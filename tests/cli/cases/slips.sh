# Angles that look mistyped: a diameter of one scan, the turn of another, a reading under its neighbour.
try new trio
{
    for pair in A,B B,C C,A; do
        for diameter in 0 45 90 135; do
            for position in -90 -45 45 90; do
                echo "1,$pair,0,$diameter,$position,0.1"
            done
        done
    done | sed '/B,C,0,135/s/135/315/; /^1,A,B,0,90/s/,90,/,99,/; /^1,B,C,0,315/s/,0,/,8,/
                s/^1,C,A,0,45,45,/1,C,A,0,46,45,/'
} >>trio/readings.csv
try check trio
try check trio --json
sed -i 's/,99,/,90,/; s/^1,B,C,8,/1,B,C,0,/; s/,46,45,/,45,45,/' trio/readings.csv
try check trio
