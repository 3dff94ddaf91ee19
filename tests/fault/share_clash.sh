# Goal: a name on the machine that holds another job's program is found before anything is written, and
# told with both jobs; the old program is in the vault; the same job's older revision is replaced as
# ever; and where the shop's profile lets two jobs have one number, so does this.
. "$(dirname "$0")/shop.sh"
settings settle_ms 100
for m in LATHE1 LATHE2; do
	share $m
	sed -i 's/^marker = HERE/&\nname = O{number}/' "$home/machines/$m.conf"
done
printf '[weights]\nnumber-clash = warn\n' >>"$home/machines/LATHE2.conf"
start
drop_pair J4417 C 4417
becomes released J4417 C
# Somebody has carried another job's program there by stick.
for m in LATHE1 LATHE2; do
	program J5020 A lower 4417 201 >"$scratch/$m/CH2/O4417"
done

send J4417 C LATHE1
expect 'an order over another job' failed "$(outcome_of "$order")"
text=$(api "/v1/orders/$order" | jq -r .text)
expect_in 'why' "the name 'O4417' of channel lower holds a program of job J5020" "$text"
expect_in 'the order' 'this order is for job J4417' "$text"
expect_machine LATHE1 'nothing @'
[ ! -e "$scratch/LATHE1/CH1/O4417" ] || fail 'something was written'
grep -q J5020 "$scratch/LATHE1/CH2/O4417" || fail "the other job's program is gone"
expect_tidy LATHE1
api "/v1/programs/$(sum "$scratch/LATHE1/CH2/O4417")" | cmp - "$scratch/LATHE1/CH2/O4417" || fail 'it is not in the vault'

rm "$scratch/LATHE1/CH2/O4417"
carried J4417 C LATHE1
drop_pair J4417 D 4417
becomes released J4417 D
carried J4417 D LATHE1
expect_machine LATHE1 'loaded J4417@D read back'
carried J4417 D LATHE2
expect_machine LATHE2 'loaded J4417@D read back'

# Names beside it that a control may take for the same: the number written otherwise, another case.
drop_pair J0417 A 417
becomes released J0417 A
: >"$scratch/LATHE1/CH1/O417"
send J0417 A LATHE1
expect 'an order beside the same number' failed "$(outcome_of "$order")"
expect_in 'why' "channel upper: beside 'O0417' lies 'O417'" "$(api "/v1/orders/$order" | jq -r .text)"
rm "$scratch/LATHE1/CH1/O417"
: >"$scratch/LATHE1/CH2/o0417"
send J0417 A LATHE1
expect 'an order beside another case' failed "$(outcome_of "$order")"
expect_in 'why' "channel lower: beside 'O0417' lies 'o0417'" "$(api "/v1/orders/$order" | jq -r .text)"
expect_tidy LATHE1
rm "$scratch/LATHE1/CH2/o0417"
: >"$scratch/LATHE1/CH2/O4170"
: >"$scratch/LATHE1/CH2/P0417"
: >"$scratch/LATHE1/CH2/O0417.BAK"
carried J0417 A LATHE1
sound
stop
