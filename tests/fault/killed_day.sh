# Goal: yoked and its carriers are killed (SIGKILL) at random moments of a busy day. After each: it starts, the trail
# verifies, no program is lost, no half pair is called loaded, and everything that was answered "done" is still done.
# usage: killed_day.sh BUILD [KILLS], 4 without
. "$(dirname "$0")/day.sh"
kills=${2:-4}
seed=${YOKE_SEED:-$(date +%s)}
shop_opens
start
work_begins 0
killed=0 carriers_killed=0
random() { # MOST
	seed=$(((seed * 1103515245 + 12345) & 2147483647))
	echo $((seed / 65536 % $1))
}
echo "seed $seed"
# strikes WHO: at a random moment behind a step of an order, if one comes.
strikes() {
	random 30000 >"$scratch/number"
	struck=$("$build/tests/fault/strike" "$home/yoke.sock" "$pid" "$1" '"step"' 1 "$(cat "$scratch/number")" | tail -n 1) || return 0
	case $struck in *[!0-9]* | '') return 0 ;; esac
	[ "$1" = carrier ] && carriers_killed=$((carriers_killed + struck)) || carriers_killed=$((carriers_killed + struck - 1))
}
begin_again() {
	kill -9 "$pid" 2>/dev/null || true
	wait "$pid" 2>/dev/null || true
	pid=
	start
}
while [ $killed -lt "$kills" ]; do
	case $((killed % 4)) in
	0) # a carrier in the middle of an order; the service goes on
		strikes carrier
		gone && fail 'yoked is gone with its carrier'
		;;
	1) # both, in the middle of an order
		strikes both
		begin_again
		;;
	2) # the service at any moment; its carriers live a little longer
		random 1500 >"$scratch/number"
		sleep "$(awk '{ print $1 / 1000 }' "$scratch/number")"
		begin_again
		;;
	3) # twice: in the middle of the first moments of a start
		random 400 >"$scratch/number"
		kill -9 "$pid"
		wait "$pid" 2>/dev/null || true
		"$yoked" --home "$home" --carrier "$scratch/yoke-carrier" >>"$log" 2>&1 &
		pid=$!
		sleep "$(awk '{ print $1 / 1000 }' "$scratch/number")"
		begin_again
		;;
	esac
	killed=$((killed + 1))
	pause
	check
	go_on
done
pause
kill "$day" 2>/dev/null || true
echo "killed $killed times, $carriers_killed carriers among them; $(grep -c '^done' "$acks") orders, $(grep -c '^released' "$acks") pairs and $(grep -c '^program' "$acks") programs that were told to be done still are; $(count_events) events"
[ "$(grep -c '^done' "$acks")" -gt 0 ] && [ "$(grep -c '^released' "$acks")" -gt "$killed" ] || fail 'nothing was done between the kills'
stop
