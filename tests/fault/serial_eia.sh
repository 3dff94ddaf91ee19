# Goal: in EIA code both channels arrive with exactly the dropped bytes and are read back as equal,
# digits 3 and all; what EIA does not have is refused before anything is sent, with its line; and a
# control that punches another code than is set is found out, named, and nothing of it is stored; a
# program that was sent in the wrong code is never called read back.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
capitals() { # the arguments of program: a program without small letters
	program "$@" | tr a-z A-Z
}
mkdir -p "$scratch/battery/upper"
capitals J4417 C upper 4417 201 >"$scratch/battery/upper/O4417.nc"
# A copy is punched while our last characters still leave: its 13 hex are no DC3.
control LATHE1 --line-upper 0 --line-lower 0 --store "$scratch/LATHE1.store" --speed 115200 --pause 0 --code eia
control LATHE2 --line 0 --speed 115200 --battery "$scratch/battery" --code eia
control LATHE3 --line 0 --speed 115200 --battery "$scratch/battery" --code iso
control LATHE4 --line-upper 0 --line-lower 0 --speed 115200 --code eia
serial LATHE4 'code = iso' 'read_back = punch' 'read_back_ms = 2000'
serial LATHE1 'code = eia' 'framing = 8n2' 'read_back = punch' 'leader = 20' 'trailer = 20'
serial LATHE2 'code = iso' 'read_back_ms = 3000'
serial LATHE3 'code = eia' 'framing = 8n2' 'read_back_ms = 3000'
start
for c in upper lower; do
	capitals J4433 C "$c" 4433 203 213 233 >"$programs/J4433-C.$c.nc"
done
becomes released J4433 C
automatic LATHE1
carried J4433 C LATHE1
expect_stored LATHE1 4433 J4433 C
expect_machine LATHE1 'loaded J4433@C read back'

# Sent in ISO to a control that is set to EIA: it finds neither % nor end of block, and punches nothing.
automatic LATHE4
send J4433 C LATHE4
expect 'an order whose copy does not come' failed "$(outcome_of "$order")"
expect_machine LATHE4 'loaded J4433@C'
expect_in 'why it is not read back' 'no program came' "$(api "/v1/orders/$order" | jq -r .text)"
expect 'programs in LATHE4' '0 programs' "$(operator LATHE4 list)"

# A small letter in a comment of the lower program: nothing is sent, not even of the upper one.
capitals J4417 C upper 4417 201 >"$programs/J4417-C.upper.nc"
capitals J4417 C lower 4417 201 | sed '3s/.*/&(bore)/' >"$programs/J4417-C.lower.nc"
becomes released J4417 C
heard=$(operator LATHE1 figures | grep received)
send J4417 C LATHE1
expect 'an order with a small letter' failed "$(outcome_of "$order")"
text=$(api "/v1/orders/$order" | jq -r .text)
expect_in 'why' 'lower, line 3, byte' "$text"
expect_in 'why' 'capital letters only' "$text"
expect 'what the control heard' "$heard" "$(operator LATHE1 figures | grep received)"
expect_machine LATHE1 'loaded J4433@C read back'

punch() { # NAME: the operator punches the upper program when the line is open
	punched() { [ "$(of "$1" .progress.phase)" = punch ]; }
	within "$patience" punched "$@" || fail "the fetch does not wait: $(api "/v1/machines/$1")"
	operator "$1" "punch upper" >/dev/null
}

programs_before=$(count_events kind=fetched)
for name in LATHE2 LATHE3; do
	order $name/fetch '{"channel":"upper"}'
	punch $name
	expect "the fetch of the wrong code from $name" failed "$(outcome_of "$order")"
	api "/v1/orders/$order" | jq -r .text >"$scratch/$name.why"
	expect "raw captures of $name" 1 "$(events "kind=arrived&machine=$name" | jq -r 'select(.outcome == "raw") | .outcome' | wc -l)"
	expect_machine $name 'nothing @'
done
expect_in 'why' 'the control punched EIA while ISO or ASCII is set' "$(cat "$scratch/LATHE2.why")"
expect_in 'why' 'the control punched ISO or ASCII while EIA is set' "$(cat "$scratch/LATHE3.why")"
expect 'fetched events' "$programs_before" "$(count_events kind=fetched)"
sound
stop
