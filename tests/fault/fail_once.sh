# Goal: every write, flush, rename and allocation of yoked and of a carrier fails once, each in a day of its own: nothing
# that was answered is lost, no half pair is called loaded, the trail verifies after the next start, and nobody ends by a
# fault in the program.
# usage: fail_once.sh BUILD [STEP [KIND...]]: every STEP-th call is made to fail; 1 is all. Without, a few of each kind. What SQLite
# calls fails one by one in tests/vault/test_fault.c too.
. "$(dirname "$0")/day.sh"
! grep -qa __asan_init "$yoked" || skip 'a sanitizer has its own memory'
step=${2:-0}
kinds='write sync rename memory'
[ $# -le 2 ] || { shift 2 && kinds=$*; }
shim=$build/tests/fault/libyoke_shim.so
base=$scratch

# A short day: two pairs, two orders, a word of a person, an upload.
short_day() {
	long_blocks=2000
	drop_pair D1 A 1
	drop_pair D2 A 2 LATHE2
	within 3 released_by_now D1 && note released D1
	id=$(asked .order POST /v1/machines/LATHE1/send '{"job":"D1"}')
	[ -n "$id" ] && note "order $id" && within 4 ended_by_now "$id" && [ "$(asked .state GET "/v1/orders/$id")" = done ] && note "done $id"
	[ "$(asked .proven POST /v1/machines/LATHE1/prove '{}')" = true ] && note proven LATHE1
	head -c 3000 /dev/urandom | base64 | curl -sf --max-time 5 --unix-socket "$home/yoke.sock" --data-binary @- \
		-H 'Content-Type: application/octet-stream' http://yoke/v1/programs 2>/dev/null | jq -r '"program " + .sha256' >>"$acks" 2>/dev/null
	asked . POST /v1/backup "{\"file\":\"$scratch/copy\"}" >/dev/null
	id=$(asked .order POST /v1/machines/LATHE1/fetch '{}')
	[ -z "$id" ] || { note "order $id"; within 4 ended_by_now "$id"; }
	kill -TERM "$pid" 2>/dev/null
	within 20 gone
}

# one WHO KIND NUMBER: 0 when the call was made to fail.
one() {
	scratch=$base/$1-$2-$3 home=$base/$1-$2-$3/home
	programs=$home/programs log=$scratch/yoked.log answer=$scratch/answer acks=$scratch/acks
	mkdir -p "$home/machines"
	cp "$base/yoke-carrier" "$scratch/"
	: >"$acks"
	shop_opens
	LD_PRELOAD=$shim YOKE_SHIM_NAME=$1 YOKE_SHIM_FAIL=$2 YOKE_SHIM_AT=$3 YOKE_SHIM_MARK=$scratch/mark \
		"$yoked" --home "$home" --carrier "$build/daemon/yoke-carrier" >>"$log" 2>&1 &
	pid=$!
	within 10 answers || true
	gone || (set +e; short_day) || true
	kill -9 "$pid" 2>/dev/null || true
	how=0
	wait "$pid" 2>/dev/null || how=$?
	pid=
	[ -e "$scratch/mark" ] || return 1
	case $how in
	0 | 1 | 2 | 137) ;;
	# libuv ends the program by itself when its loop cannot be made: nothing is open then.
	134) [ -z "$(find "$home/vault" -name 'yoke.db*' 2>/dev/null)" ] || fail "$1, $2 number $3: aborted: $(tail -n 3 "$log")" ;;
	*) fail "$1, $2 number $3: yoked ended with status $how: $(tail -n 3 "$log")" ;;
	esac
	refused=no
	[ $how = 0 ] || refused=yes
	start
	within 60 all_quiet || fail "$1, $2 number $3: orders do not end: $(api /v1/orders)"
	check
	stop
	rm -rf "$scratch"
	[ $refused = no ] || ended=$((ended + 1))
}

for who in yoked yoke-carrier; do
	for kind in $kinds; do
		number=1 failed=0 ended=0 count=0
		while one "$who" "$kind" "$number"; do
			failed=$((failed + 1))
			count=$((count + 1))
			if [ "$step" -gt 0 ]; then
				number=$((number + step))
				[ "$kind" != memory ] || number=$((number + 6 + number / 50)) # there are thousands
			else # a few, further and further apart
				number=$((number * 4))
				[ $count -lt 3 ] || break
			fi
		done
		rm -rf "$scratch"
		echo "$who, $kind: $failed calls made to fail, up to number $number; it ended by itself $ended times"
	done
done
scratch=$base
