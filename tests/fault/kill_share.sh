# Goal: the carrier, yoked, or both at once are killed at every step of an order to a share, and at
# random moments; or yoked is told to end. Afterwards the share holds all of the old or all of the new pair, the service says
# which, the trail verifies, no program is lost, and the next order leaves nothing behind.
#
# The revisions share the upper program, as revisions do; and every third order is for another job,
# so that the names on the share change.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1
start
for revision in C D; do
	drop_long J4417 $revision 4417 20000
	long J4417 C upper 4417 20000 | sed "s/REV C/REV $revision/" >"$programs/J4417-$revision.upper.nc"
	becomes released J4417 $revision
done
drop_long J5020 A 5020 20000
becomes released J5020 A
carried J4417 C LATHE1
job=J4417 revision=C kills=0 rounds=0 news=0

# The next pair, which differs from the one that is there.
next_pair() {
	was_job=$job was_revision=$revision rounds=$((rounds + 1))
	case $((rounds % 3)) in
	0) job=J5020 revision=A ;;
	1) job=J4417 revision=D ;;
	2) job=J4417 revision=C ;;
	esac
}

# strike WHO TEXT OCCURRENCE MICROSECONDS: kills WHO (carrier, yoked, both, or stop: yoked in order) so long after the text has
# come so many times in the stream of events.
strike() {
	rm -f "$scratch/struck" # what an earlier one has written
	"$build/tests/fault/strike" "$home/yoke.sock" "$pid" "$@" >"$scratch/struck" &
	striker=$!
	within "$patience" grep -q following "$scratch/struck" || fail 'strike does not follow'
	send $job $revision LATHE1
	wait $striker || fail "the event $2 did not come: $(trail)"
	struck=$(sed -n 2p "$scratch/struck")
	[ "$1" = stop ] || kills=$((kills + struck))
	if [ "$1" != carrier ]; then
		wait "$pid" 2>/dev/null || true
		pid=
		start
	fi
}

# What must hold whenever no order is open.
check() {
	quiet LATHE1
	seen=$(of LATHE1 "$in_short")
	# Another job has other names: the pair that the order wants may lie there from an earlier one, and
	# then only the machine's state says which of the two was carried last.
	if holds_pair LATHE1 $job $revision && holds_pair LATHE1 $was_job $was_revision; then
		case $seen in
		"loaded $job@$revision"*) news=$((news + 1)) ;;
		"loaded $was_job@$was_revision"*) job=$was_job revision=$was_revision ;;
		*) fail "$1: the share holds $job@$revision and $was_job@$was_revision, but the machine is '$seen': $(trail)" ;;
		esac
	elif holds_pair LATHE1 $job $revision; then
		case $seen in
		"loaded $job@$revision"*) ;;
		*) fail "$1: the share holds the new pair $job@$revision, but the machine is '$seen': $(trail)" ;;
		esac
		news=$((news + 1))
	elif holds_pair LATHE1 $was_job $was_revision; then
		case $seen in
		"loaded $was_job@$was_revision"*) ;;
		*) fail "$1: the share holds the old pair $was_job@$was_revision, but the machine is '$seen': $(trail)" ;;
		esac
		# An order that changed the job and did not arrive must leave nothing under the new name.
		job=$was_job revision=$was_revision
	else
		fail "$1: the share holds neither all old nor all new, machine '$seen': $(cd "$scratch/LATHE1" && find . -type f -exec sha256sum {} +); the trail: $(trail)"
	fi
}

for who in carrier yoked both stop; do
	for point in carrying:1 step:1 step:2 step:3 carried:1; do
		for delay in 0 1500 6000; do
			next_pair
			strike $who "\"${point%:*}\"" "${point#*:}" $delay
			check "$who killed at $point after $delay us"
		done
	done
done
sound
# Random moments, from before the carrier to after its end.
for who in carrier yoked both stop carrier yoked both stop; do
	next_pair
	delay=$(shuf -i 1000-40000 -n 1)
	strike $who '"queued"' 1 "$delay"
	check "$who killed $delay us after the order"
done
next_pair
carried $job $revision LATHE1
expect_pair LATHE1 $job $revision
expect_tidy LATHE1
expect 'carriers that are left' '' "$(carriers)"
for file in "$programs"/*.nc; do
	api "/v1/programs/$(sum "$file")" | cmp - "$file" || fail "the vault has lost $file"
done
[ "$kills" -ge 30 ] || fail "only $kills processes were killed in $rounds rounds"
[ "$news" -ge 5 ] || fail "only $news of $rounds orders arrived: the kills came too early to mean anything"
echo "$kills killed in $rounds rounds; $news orders arrived all the same"
sound
stop
