# Goal: bringing a back-up back, and a repair, are killed at random moments: what was there is never lost, the next start
# has either vault whole or refuses with words, and a second try succeeds.
# usage: restore_killed.sh BUILD [KILLS], 12 without
. "$(dirname "$0")/shop.sh"
kills=${2:-12}
seed=${YOKE_SEED:-$(date +%s)}
echo "seed $seed"
settings settle_ms 100
share LATHE1
start
drop_pair J4417 C 4417
becomes released J4417 C
mkdir "$scratch/safe"
yoke backup "$scratch/safe/copy" >/dev/null
drop_pair J4418 C 4418
becomes released J4418 C
stop
random() { # MOST
	seed=$(((seed * 1103515245 + 12345) & 2147483647))
	echo $((seed / 65536 % $1))
}
# Somewhere among the files is a whole vault that has this entry.
has_entry() { # HASH
	for file in "$home"/vault/yoke.db "$home"/vault/yoke.db.aside-* "$home"/vault/yoke.db.damaged-*; do
		[ -f "$file" ] || continue
		[ -z "$(sqlite3 -readonly "$file" "SELECT seq FROM event WHERE hash=x'$1'" 2>/dev/null)" ] || return 0
	done
	return 1
}
newest() { sqlite3 -readonly "$home/vault/yoke.db" 'SELECT lower(hex(hash)) FROM event ORDER BY seq DESC LIMIT 1'; }
done_kills=0 refused=0 finished=0
while [ $done_kills -lt "$kills" ]; do
	must=$(newest)
	how=--repair-vault
	[ $((done_kills % 3)) = 2 ] || how="--restore-vault $scratch/safe/copy --set-aside"
	random 120 >"$scratch/number"
	# The words are options.
	# shellcheck disable=SC2086
	"$yoked" --home "$home" $how >"$scratch/said" 2>&1 &
	trying=$!
	sleep "$(awk '{ print $1 / 1000 }' "$scratch/number")"
	kill -9 $trying 2>/dev/null || true
	status_of=0
	wait $trying 2>/dev/null || status_of=$?
	[ $status_of != 0 ] || finished=$((finished + 1))
	done_kills=$((done_kills + 1))
	has_entry "$must" || fail "after $how, killed after $(cat "$scratch/number") ms: what was there is lost: $(ls "$home/vault")"
	"$yoked" --home "$home" >>"$log" 2>&1 &
	pid=$!
	within "$patience" answers || fail 'yoked neither starts nor ends'
	if gone; then
		wait "$pid" || true
		pid=
		refused=$((refused + 1))
		tail -n 1 "$log" | grep -q 'recorded' || fail "it refuses with other words: $(tail -n 1 "$log")"
		"$yoked" --home "$home" --restore-vault "$scratch/safe/copy" --set-aside >"$scratch/said" 2>&1 || fail "a second try: $(cat "$scratch/said")"
		has_entry "$must" || fail "after a second try what was there is lost: $(ls "$home/vault")"
		start
	fi
	sound
	stop
	[ ! -e "$home/vault/yoke.db.new" ] || [ $status_of != 0 ] || fail "left over: $(ls "$home/vault")"
done
echo "killed $kills times, of these $finished after the end; $refused starts refused until a second try; nothing was lost"
