# Every screen on every kind of set, through a pipe: no line over 80 columns, nothing but printable
# ASCII, the same with NO_COLOR and on a dumb terminal, and for the ear no chart.
cp -R "$ROOT/examples/aurora" whole
of() { mkdir "$1" && cp whole/job.ini "$1" && awk -F, "$2" whole/readings.csv >"$1/readings.csv"; }
of undetermined '/^#/ || /^round/ || ($1 == 1 && $4 == 0)'
of onepair '/^#/ || /^round/ || ($1 == 1 && $2 == "Ash" && $3 == "Birch" && $4 == 0)'
of suspect 'BEGIN { OFS = "," } NR == 40 { $7 += 0.5 } { print }'
cp whole/work.csv suspect
cp -R whole finished && sed -i 's/^flatness .*/flatness = 100 nm/' finished/job.ini
"$FLATWRIGHT" new blank >/dev/null
screens=0
for set in whole undetermined onepair suspect finished blank; do
    for command in '' check solve 'solve --words' next 'next --words' track 'track --words' '--words'; do
        case $command in
        --words) "$FLATWRIGHT" $set --words ;;
        *) "$FLATWRIGHT" ${command%% *} $set $(echo "$command" | sed -n 's/.* //p') ;;
        esac >out 2>err || echo "$command $set: status $?"
        [ -s out ] || echo "$command $set: nothing printed"
        [ ! -s err ] || sed "s/^/$command $set: /" err
        awk -v name="$command $set" 'length > 80 { print name ": too wide: " $0 }' out
        LC_ALL=C grep -n '[^ -~]' out | sed "s/^/$command $set: not plain: /"
        grep -nE ' +$' out | sed "s/^/$command $set: blanks at the end: /"
        case $command in *--words) grep -nE '^ *[-+]?[0-9]+ \|' out | sed "s/^/$command $set: chart: /" ;; esac
        for dumb in NO_COLOR=1 TERM=dumb LC_ALL=C.UTF-8; do
            case $command in
            --words) env $dumb "$FLATWRIGHT" $set --words ;;
            *) env $dumb "$FLATWRIGHT" ${command%% *} $set $(echo "$command" | sed -n 's/.* //p') ;;
            esac | cmp -s - out || echo "$command $set: other with $dumb"
        done
        screens=$((screens + 1))
    done
done
echo "$screens screens"
echo '# what is not there is not spoken of'
try solve onepair
try track finished --words
echo '# a rim that nobody read'
cp -R "$ROOT/examples/page" rim && sed -i '/^clear/d' rim/job.ini
try rim --words
