# Goal: a dry run says all that can be known before the first byte: whether the machine can be reached,
# what would be replaced and whether that is what was carried there, clashes, whether it runs; and
# changes nothing, on the machine or in what is known of it.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
share LATHE1
printf '[running]\nfile = RUNS\n' >>"$home/machines/LATHE1.conf"
control LATHE2 --line-upper 0 --line-lower 0 --store "$scratch/LATHE2.store" --speed 115200
serial LATHE2
start
for r in C D; do
	drop_pair J4417 $r 4417
	becomes released J4417 $r
done

try() { # MACHINE STATUS: a dry run of J4417@D
	status=0
	"$build/cli/yoke" send J4417@D "$1" --dry-run >"$scratch/said" 2>&1 || status=$?
	expect "the dry run: $(cat "$scratch/said")" "$2" "$status"
	tr '\n' ' ' <"$scratch/said" | tr -s ' ' >"$scratch/flat"
}
says() {
	grep -qF -- "$1" "$scratch/flat" || fail "expected '$1' in: $(cat "$scratch/flat")"
}

try LATHE1 0
says "channel upper: 'J4417_upper.NC' is not there yet; channel lower: 'J4417_lower.NC' is not there yet"
expect_machine LATHE1 'nothing @'
carried J4417 C LATHE1
try LATHE1 0
says "channel upper: 'J4417_upper.NC' would be replaced: $(wc -c <"$(on LATHE1 upper J4417)") bytes, what was carried there, sha256 $(sum "$(on LATHE1 upper J4417)" | cut -c1-8)"
sed -i 's/F0.2$/F0.3/' "$(on LATHE1 upper J4417)"
try LATHE1 0
says "'J4417_upper.NC' would be replaced: $(wc -c <"$(on LATHE1 upper J4417)") bytes, not what was carried there"
carried J4417 C LATHE1
expect_pair LATHE1 J4417 C

# What would stop it.
: >"$scratch/LATHE1/RUNS"
try LATHE1 4
says 'the machine says that it is running'
rm "$scratch/LATHE1/RUNS"
: >"$scratch/LATHE1/CH1/j4417_UPPER.nc"
try LATHE1 4
says "beside 'J4417_upper.NC' lies 'j4417_UPPER.nc'"
rm "$scratch/LATHE1/CH1/j4417_UPPER.nc"
rm "$scratch/LATHE1/HERE"
try LATHE1 4
says marker
expect_machine LATHE1 'loaded J4417@C read back offline'
: >"$scratch/LATHE1/HERE"
try LATHE1 0
expect_pair LATHE1 J4417 C
expect_tidy LATHE1
expect_machine LATHE1 'loaded J4417@C read back'
expect_events 0 "kind=step&after=$(events kind=carried | tail -n 1 | jq -r .seq)"

# A serial line: it answers, and how long it would take; nobody is asked to read.
try LATHE2 0
says "channel upper: its line answers; $(wc -c <"$programs/J4417-D.upper.nc") bytes"
expect 'programs in LATHE2' '0 programs' "$(operator LATHE2 list)"
operator LATHE2 'power off' >/dev/null
try LATHE2 4
expect_machine LATHE2 'nothing @ offline'
sound
stop
