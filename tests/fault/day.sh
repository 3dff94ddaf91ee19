# A busy day in a shop that can be stopped between two actions, and what must hold after anything: to be sourced
# with the build folder as $1. Who works notes in $acks what he was told is done; that must stay done.
. "$(dirname "$0")/shop.sh"
acks=$scratch/acks
: >"$acks"
day=

# shop_opens: two machines with shares, one of which gets what is released by itself.
shop_opens() {
	settings settle_ms 100 incomplete_s 2
	share LATHE1
	share LATHE2 'on_release = carry'
	mkdir -p "$programs/LATHE2"
}

# The answer's field, or nothing when nobody answers.
asked() { # FILTER METHOD PATH [BODY]
	asked_filter=$1 asked_method=$2 asked_path=$3
	shift 3
	curl -sf --max-time 20 --unix-socket "$home/yoke.sock" -X "$asked_method" ${1:+-d "$1"} \
		"http://yoke$asked_path" 2>/dev/null | jq -r "$asked_filter" 2>/dev/null || true
}

note() {
	echo "$*" >>"$acks"
}

released_by_now() {
	[ "$(asked '.pairs[0].state' GET "/v1/jobs/$1")" = released ]
}

ended_by_now() {
	case $(asked .state GET "/v1/orders/$1") in
	done | failed | cancelled) ;;
	*) return 1 ;;
	esac
}

# One action after the other; whatever is not answered is not noted.
work() { # FIRST
	set +e
	i=$1
	while :; do
		while [ -e "$scratch/pause" ]; do
			: >"$scratch/paused"
			sleep 0.02
		done
		rm -f "$scratch/paused"
		i=$((i + 1))
		if [ $((i % 3)) = 1 ]; then
			drop_long "D$i" A $((i % 9000 + 1)) "${long_blocks:-60000}"
		else
			drop_pair "D$i" A $((i % 9000 + 1)) "$([ $((i % 2)) = 0 ] && echo LATHE2)"
		fi
		# Whose power may be cut: what lies in the folder is the dropper's own to flush.
		[ -z "${flush:-}" ] || find "$programs" -name "D$i-*" -exec sync {} +
		if [ $((i % 5)) = 0 ]; then
			taken=$(head -c "${upload:-1500000}" /dev/urandom | curl -sf --max-time 20 --unix-socket "$home/yoke.sock" --data-binary @- \
				-H 'Content-Type: application/octet-stream' http://yoke/v1/programs 2>/dev/null | jq -r .sha256 2>/dev/null)
			[ -z "$taken" ] || note "program $taken"
		fi
		within 3 released_by_now "D$i" && note "released D$i"
		case $((i % 6)) in
		1 | 3)
			id=$(asked .order POST /v1/machines/LATHE1/send "{\"job\":\"D$i\"}")
			[ -n "$id" ] && note "order $id" && within 3 ended_by_now "$id" &&
				[ "$(asked .state GET "/v1/orders/$id")" = done ] && note "done $id"
			;;
		2) [ "$(asked .locked POST /v1/machines/LATHE2/lock '{}')" = true ] && note locked LATHE2 ;;
		4) [ "$(asked .locked POST /v1/machines/LATHE2/unlock '{}')" = false ] && note unlocked LATHE2 ;;
		5) [ "$(asked .proven POST /v1/machines/LATHE1/prove '{}')" = true ] && note proven LATHE1 ;;
		0) id=$(asked .order POST /v1/machines/LATHE1/fetch '{}') && [ -n "$id" ] && note "order $id" ;;
		esac
	done
}

work_begins() { # FIRST
	rm -f "$scratch/pause" "$scratch/paused"
	work "$1" >>"$scratch/work.log" 2>&1 &
	day=$!
}

paused() { [ -e "$scratch/paused" ]; }
# Nothing is under way, and what waits waits for a lock.
all_quiet() {
	[ "$(api /v1/orders?open=yes | jq --argjson locked "$(of LATHE2 .locked)" '[.orders[] |
		select(.state == "carrying" or (.state == "queued" and (.machine != "LATHE2" or ($locked | not))))] | length')" = 0 ]
}

# pause: nobody works, and nothing is under way.
pause() {
	: >"$scratch/pause"
	within 60 paused || fail "who works does not stop: $(tail -n 5 "$scratch/work.log")"
	within 60 all_quiet || fail "orders do not end: $(api /v1/orders | jq -c '.orders[]' | head -n 5)"
}

go_on() {
	rm -f "$scratch/paused" "$scratch/pause"
}

# What is said to be loaded is on the share, both halves of it, by sha256sum.
no_half_pair() {
	for m in LATHE1 LATHE2; do
		content=$(of $m .content) job=$(of $m .job) revision=$(of $m .revision)
		[ "$content" = loaded ] || continue
		for c in upper lower; do
			want=$(of $m ".parts[] | select(.channel == \"$c\") | .sha256")
			[ "$(sum "$(on $m $c "$job")" 2>/dev/null)" = "$want" ] ||
				fail "$m is said to hold $job@$revision, and $c is another: $(ls -l "$scratch/$m"/CH*); $(trail)"
		done
	done
}

# Every program of the folder, and every one that was taken over the API, byte for byte.
no_program_lost() {
	find "$programs" -name '*.nc' -exec sha256sum {} + | cut -d ' ' -f 1 | sort -u >"$scratch/want"
	sed -n 's/^program //p' "$acks" | sort -u >>"$scratch/want"
	sort -u "$scratch/want" >"$scratch/wanted"
	sqlite3 -readonly -cmd '.timeout 10000' "$home/vault/yoke.db" 'SELECT lower(hex(sha)) FROM program WHERE sha IS NOT NULL ORDER BY 1' >"$scratch/have"
	lost=$(comm -23 "$scratch/wanted" "$scratch/have")
	[ -z "$lost" ] || fail "programs are lost: $lost"
}

# What was told to be done still is.
all_still_done() {
	while read -r what value; do
		case $what in
		order) [ -n "$(asked .state GET "/v1/orders/$value")" ] || fail "order $value, which was accepted, is not there" ;;
		done) expect "order $value, which was done" done "$(order_state "$value")" ;;
		released) expect "pair $value, which was released" released "$(asked '.pairs[0].state' GET "/v1/jobs/$value")" ;;
		esac
	done <"$acks"
	# Of what changes again, each word that was answered is an entry.
	for word in 'locked LATHE2' 'unlocked LATHE2' 'proven LATHE1'; do
		ack_kind=${word% *}
		[ "$(count_events "kind=$ack_kind")" -ge "$(grep -c "^$word" "$acks")" ] || fail "some word '$word' was answered and is not in the trail"
	done
}

# check: after a start, with nobody at work.
check() {
	sound
	no_half_pair
	all_still_done
	within 30 idle || fail "the folder is not taken in: $(api /v1/status)"
	no_program_lost
	clean_log
}
