# Goal: what goes wrong on the way to a stick leaves it as it was, or whole: no room, write protection,
# another job's program of the same number, names that a stick does not take, a command that is killed at
# any moment. What a stick must not carry is refused before anything is written.
. "$(dirname "$0")/stick_lib.sh"
settings settle_ms 100 incomplete_s 2
by_stick LATHE1 'eob = crlf'
share LATHE2
machine LATHE3 <<END
[line]
kind = stick
name = {job}_{channel}.NC
short_names = yes
END
by_stick LATHE5 'eob = crlf'
printf '[weights]\nnumber-clash = warn\n' >>"$home/machines/LATHE5.conf"
machine LATHE4 <<END
[line]
kind = serial
address = tcp://192.0.2.7:4001
END
start
for revision in C D; do
	drop_pair J4417 $revision 4417
	becomes released J4417 $revision
done
plug 1440
echo "the stick: $formatted"
stands() { (cd "$stick" && find . -type f -exec sha256sum {} + | sort); }

# What is not released, locked, or has no name on a stick: nothing is written, and each refusal is told.
program J4418 A upper 4418 201 >"$programs/J4418-A.upper.nc"
becomes held J4418 A
says 2 'must be the folder at which the stick is mounted' yoke export J4417 LATHE1 "$scratch/nowhere"
says 2 'JOB[@REV], MACHINE and DIR' yoke export J4417 "$stick"
says 1 'mate' yoke export J4418@A LATHE1 "$stick"
says 1 'there is no pair' yoke export J9999 LATHE1 "$stick"
says 1 'is no 8.3 name' yoke export J4417 LATHE3 "$stick"
says 1 'ever marked as proven' yoke export --last-good LATHE1 "$stick"
yoke lock LATHE1 >/dev/null
says 1 'is locked' yoke export J4417 LATHE1 "$stick"
yoke unlock LATHE1 >/dev/null
expect_events 5 'kind=refused&who=uid'
expect_events 0 kind=exported
expect 'what lies on the stick' '' "$(ls "$stick")"
says 1 'nothing was given out or carried' yoke import LATHE1 "$stick"
says 1 'was not given out' yoke loaded LATHE1

# Line ends as the control wants them: the list is of what is written, and both sums are in the trail.
says 0 . yoke export J4417@C LATHE1 "$stick"
for c in upper lower; do
	sed 's/$/\r/' "$programs/J4417-C.$c.nc" | cmp - "$(on_stick $c)" || fail "$c does not lie there with CR LF"
done
(cd "$stick" && sha256sum -c --quiet YOKE.SUM) || fail 'the list does not fit'
expect 'the sums in the trail' "$(sum "$programs/J4417-C.upper.nc") $(sum "$(on_stick upper)")" \
	"$(events kind=exported | jq -r '.detail.files[0] | .program + " " + .sha256')"

# A machine with another kind of line can get its programs so too, in folders of their own.
says 0 . yoke export J4417@C LATHE4 "$stick"
says 0 . yoke export J4417@C LATHE2 "$stick"
expect 'the programs for a serial machine' 2 "$(find "$stick/upper/O4417" "$stick/lower/O4417" -type f | wc -l)"
expect 'lines of the list, all exports' 6 "$(wc -l <"$stick/YOKE.SUM")"
(cd "$stick" && sha256sum -c --quiet YOKE.SUM) || fail 'the list of several exports does not fit'
rm -r "$stick/upper" "$stick/lower"

# Another job's program: under one of the names, or with the number in the same folder.
program J5020 B upper 4417 201 >"$(on_stick upper)"
stands >"$scratch/before"
says 1 'belongs to job J5020' yoke export J4417@D LATHE1 "$stick"
program J5020 B upper 9 201 >"$stick/CH2/J5020_1.NC"
sed -i 's/O9/O4417/' "$stick/CH2/J5020_1.NC"
rm "$(on_stick upper)"
says 1 'has the same program number, O4417, and belongs to job J5020' yoke export J4417@D LATHE1 "$stick"
printf '%%\nO4417\nM30\n%%\n' >"$(on_stick upper)"
rm "$stick/CH2/J5020_1.NC"
says 1 'does not say what job it belongs to' yoke export J4417@D LATHE1 "$stick"
expect_clean
expect_events 3 kind=exported # none of these
program J5020 B upper 4417 201 >"$(on_stick upper)"
stands >"$scratch/after"
cmp "$scratch/before" "$scratch/after" || fail 'the stick is not as it was'
says 0 'in place of J5020@B' yoke export J4417@D LATHE1 "$stick" --replace
# Two jobs may have one number on this machine.
program J5020 B upper 4417 201 >"$(on_stick upper)"
says 0 'in place of J5020@B' yoke export J4417@D LATHE5 "$stick"

# Programs come in whole over the API, of any size, also none.
head -c 3000000 /dev/urandom >"$scratch/large"
: >"$scratch/empty"
for file in large empty; do
	expect "status of $file" 201 "$(ask POST /v1/programs -H 'Content-Type: application/octet-stream' --data-binary "@$scratch/$file")"
	expect "what came of $file" "$(sum "$scratch/$file") $(stat -c %s "$scratch/$file")" "$(jq -r '.sha256 + " " + (.size | tostring)' "$answer")"
	api "/v1/programs/$(sum "$scratch/$file")" | cmp - "$scratch/$file" || fail "$file is not in the vault as it was"
done
# The sender goes away in the middle: nothing of it stays.
head -c 2500000 /dev/urandom >"$scratch/cut"
status=0
curl -sS --max-time 1 --limit-rate 100k --unix-socket "$home/yoke.sock" --data-binary "@$scratch/cut" \
	http://yoke/v1/programs >/dev/null 2>&1 || status=$?
expect 'status of a sender that gives up' 28 "$status"
expect 'status of its program' 404 "$(ask GET "/v1/programs/$(sum "$scratch/cut")")"
refused 400 body LATHE1/import '{"job":"J4417","programs":[{"channel":"middle","sha256":"00","time":1}]}'
refused 400 body LATHE1/import '{"job":"J4417","programs":[]}'
refused 404 no-program LATHE1/import "{\"job\":\"J4417\",\"programs\":[{\"channel\":\"upper\",\"sha256\":\"$(printf x | sha256sum | cut -c 1-64)\",\"time\":1}]}"

# Write-protected, and without room: as it was, and nothing is left over.
stands >"$scratch/before"
if [ "$formatted" = FAT ]; then
	mount -o remount,ro "$stick"
	says 4 'write-protected' yoke export J4417@C LATHE1 "$stick"
	mount -o remount,rw "$stick"
	drop_long J6030 A 6030 60000
	becomes released J6030 A
	says 4 'there is no room' yoke export J6030 LATHE1 "$stick"
	expect_clean
fi
exports=$(count_events kind=exported)
mkdir "$scratch/small"
if mount -t tmpfs -o size=256k yoke "$scratch/small" 2>/dev/null; then
	mounted="$scratch/small $mounted"
	drop_long J6040 A 6040 6000
	becomes released J6040 A
	says 4 'there is no room' yoke export J6040 LATHE1 "$scratch/small"
	expect 'what lies there' '' "$(ls "$scratch/small")"
	# A file system that promises more than it has.
	dd if=/dev/zero of="$scratch/small/fill" bs=1k count=40 2>/dev/null
	umount "$scratch/small"
	mount -t tmpfs -o size=512k,nr_inodes=4 yoke "$scratch/small"
	says 4 'No space left' yoke export J4417 LATHE1 "$scratch/small"
	expect 'files that are left over' '' "$(find "$scratch/small" -type f)"
	mount -o remount,ro "$scratch/small"
	says 4 'write-protected' yoke export J4417 LATHE1 "$scratch/small"
	expect_events "$exports" kind=exported
fi
stands >"$scratch/after"
cmp "$scratch/before" "$scratch/after" || fail 'the stick is not as it was'

# Killed at any moment: under a program's name lies a whole program or nothing, and the next export
# clears up.
for revision in E F; do
	drop_long J4417 $revision 4417 3000
	becomes released J4417 $revision
done
whole=$(for r in D E F; do for c in upper lower; do sed 's/$/\r/' "$programs/J4417-$r.$c.nc" | sha256sum | cut -d ' ' -f 1; done; done)
killed=0
for i in 1 2 3 4 5 6 7 8 9 10 11 12; do
	[ $((i % 2)) = 0 ] && revision=E || revision=F
	"$build/cli/yoke" export "J4417@$revision" LATHE1 "$stick" >/dev/null 2>&1 &
	victim=$!
	sleep "0.0$i"
	kill -9 $victim 2>/dev/null && killed=$((killed + 1))
	wait $victim 2>/dev/null || true
	for c in upper lower; do
		[ ! -e "$(on_stick $c)" ] || expect_in "$c after kill $i" "$(sum "$(on_stick $c)")" "$whole"
	done
	if [ ! -e "$stick/YOKE.SUM" ]; then
		expect_in 'the note' 'NOT COMPLETE' "$(cat "$stick/YOKE.TXT")"
	else
		(cd "$stick" && sha256sum -c --quiet YOKE.SUM) || fail "the list does not fit after kill $i"
	fi
done
echo "killed $killed times"
says 0 . yoke export J4417@F LATHE1 "$stick"
expect_clean
(cd "$stick" && sha256sum -c --quiet YOKE.SUM) || fail 'the list does not fit'
# Ctrl-C before it is recorded: as it was.
exports=$(count_events kind=exported)
stands >"$scratch/before"
kill -STOP "$pid"
"$build/cli/yoke" export J4417@E LATHE1 "$stick" >"$scratch/said" 2>&1 &
victim=$!
sleep 0.3
kill -INT $victim
kill -CONT "$pid"
status=0
wait $victim || status=$?
expect 'status after Ctrl-C' 4 "$status"
expect_in 'what it says' 'the stick is as it was' "$(cat "$scratch/said")"
stands >"$scratch/after"
cmp "$scratch/before" "$scratch/after" || fail 'the stick is not as it was'
expect_events "$exports" kind=exported
pull
sound
stop
