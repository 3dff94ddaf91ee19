# Goal: the service with machines behind real file servers: it sends; a server that dies in the middle of an upload,
# or between the two programs, is looked at when it is back, and the order is done or the old pair stands; what
# somebody changes there is seen; a wrong password is told at once; and the password is in nothing that it keeps or
# says. To be run by remote.sh, in its namespaces, with the build folder as $1.
. "$(dirname "$0")/../fault/shop.sh"
. "$(dirname "$0")/sshfs.sh"
chmod 755 "$scratch"
patience=90 # an order that waits is tried again after 2, 4, 8, 16 s
peers=$scratch/peers
word='sesame 7#c"4\x%41'
mkdir -p "$peers"
printf %s "$word" | python3 -B "$here/remote_servers.py" prepare "$peers"
printf '%s\n' "$word" >"$scratch/password"
chmod 600 "$scratch/password"

# up NAME KIND PORT [OPTION=VALUE]...: its server; an empty share at first.
up() {
	up_name=$1 up_kind=$2 up_port=$3
	shift 3
	for up_folder in CH1 CH2; do
		mkdir -p "$scratch/$up_name/$up_folder"
		chown cnc "$scratch/$up_name/$up_folder"
	done
	: >"$scratch/$up_name/HERE"
	python3 -B "$here/remote_servers.py" "$up_kind" "$peers" "$scratch/$up_name" "$up_port" "$@" >>"$scratch/$up_name.said" 2>&1 &
	echo $! >"$scratch/$up_name.listener"
	case " $servers " in *" $up_name "*) ;; *) servers="$servers $up_name" ;; esac
	within "$patience" is_up "$up_port" || fail "the server of $up_name does not start: $(cat "$scratch/$up_name.said")"
}

is_up() {
	grep -qi "0100007F:$(printf %04X "$1") 00000000:0000 0A" /proc/net/tcp
}

# server_share NAME ADDRESS [SETTING]...: a machine with it; the settings go to [line].
server_share() {
	share_name=$1
	{
		printf '[machine]\nretry_s = 120\nlook_s = 1\n'
		printf '[line]\nkind = remote\naddress = %s\nroot = %s\nmarker = HERE\nuser = cnc\n' "$2" "$scratch/$1"
		printf 'password = file:%s\nopen_ms = 9000\nanswer_ms = 6000\nstall_ms = 3000\n' "$scratch/password"
		shift 2
		for setting; do echo "$setting"; done
		printf '[line upper]\nfolder = CH1\n[line lower]\nfolder = CH2\n'
	} | machine "$share_name"
}

expect_tidy_server() {
	left=$(find "$scratch/$1" -name 'yoke-*')
	[ -z "$left" ] || fail "left over on the server of $1: $left"
}

over_or_waits() { # NAME ORDER
	over "$2" || waits "$1"
}

is_settled() {
	case $(of "$1" "$in_short") in
	*unknown* | *offline* | *locked*) return 1 ;;
	esac
}

ftp='FTP ftp 2210'
ftps='FTPS ftps-other 2220'
sftp='SFTP sftp 2230'
all='FTP FTPS SFTP'
server_of() {
	case $1 in
	FTP) echo "$ftp" ;;
	FTPS) echo "$ftps" ;;
	SFTP) echo "$sftp" ;;
	esac
}
server_share FTP ftp://127.0.0.1:2210
server_share FTPS ftps://127.0.0.1:2220 'tls = explicit' "ca = $peers/ca.pem"
server_share SFTP sftp://127.0.0.1:2230 "pin = $(ssh-keygen -l -f "$peers/host-ecdsa.pub" | cut -d ' ' -f 2)"
for m in $all; do
	# shellcheck disable=SC2046,SC2086
	up $(server_of $m)
done
settings settle_ms 100
start
for revision in C D E; do drop_long J4417 $revision 4417 20000; done
for revision in C D E; do becomes released J4417 $revision; done

for m in $all; do
	carried J4417 C $m
	holds_pair $m J4417 C || fail "the server of $m does not hold the pair"
	expect_tidy_server $m
	expect_machine $m 'loaded J4417@C read back'
done

# strike NAME FILE|FOLDER: see there; begins to watch.
strike() {
	rm -f "$scratch/$1.struck" # of an earlier one
	python3 -B "$here/remote_strike.py" "$2" "$(server_pid "$1")" >"$scratch/$1.struck" &
	struck=$!
	within "$patience" grep -q watching "$scratch/$1.struck" || fail "nobody watches $1"
}

# The server dies while the new upper program comes, and is back.
for m in $all; do
	strike $m "$scratch/$m/CH1"
	send J4417 D $m
	eval "order_$m=$order"
	wait $struck || fail "nothing came to $m: $(trail)"
	kill_server $m
	echo "$m: killed with $(find "$scratch/$m/CH1" -name '*.part' -printf '%s') bytes of the upper program there"
done
waits() { [ "$(events "kind=kept&machine=$1" | tail -n 1 | jq -r .outcome)" = again ]; }
for m in $all; do
	within "$patience" waits $m || fail "the order of $m does not wait: $(trail)"
	holds_pair $m J4417 C || fail "$m does not hold C while its order waits"
	# shellcheck disable=SC2046,SC2086
	up $(server_of $m)
done
for m in $all; do
	expect "the order of $m" done "$(eval "outcome_of \$order_$m")"
	machine_becomes $m 'loaded J4417@D read back'
	holds_pair $m J4417 D || fail "$m does not hold D"
	expect_tidy_server $m
done

# It dies as soon as the upper program has been replaced.
for m in $all; do
	strike $m "$(on $m upper J4417)"
	send J4417 E $m
	wait $struck || fail "the upper program of $m was never replaced: $(trail)"
	kill_server $m
	for c in upper lower; do
		sum "$(on $m $c J4417)" 2>/dev/null || echo none
	done >"$scratch/seen"
	within "$patience" over_or_waits $m "$order" || fail "nothing comes of the order of $m: $(trail)"
	echo "$m: killed between the programs: $(of $m "$in_short"), the order is $(order_state "$order")"
	# shellcheck disable=SC2046,SC2086
	up $(server_of $m)
	outcome_of "$order" >"$scratch/outcome"
	within "$patience" is_settled $m || fail "$m is $(of $m "$in_short"): $(trail)"
	echo "$m: back: $(of $m "$in_short"), the order is $(cat "$scratch/outcome")"
	case $(of $m "$in_short") in
	*J4417@D*) holds_pair $m J4417 D || fail "$m does not hold D: $(trail)" ;;
	*) holds_pair $m J4417 E || fail "$m does not hold E: $(trail)" ;;
	esac
	carried J4417 E $m
	holds_pair $m J4417 E || fail "$m does not hold E"
	expect_tidy_server $m
done

# Somebody edits a program there; the next order puts the carried one back.
for m in $all; do
	printf '%%\nO4417(EDITED AT THE MACHINE)\nM30\n%%\n' >"$(on $m lower J4417)"
done
drifted() { [ "$(of "$1" .drift)" = true ]; }
for m in $all; do
	within "$patience" drifted $m || fail "what was edited on $m is not seen: $(trail)"
	carried J4417 E $m
	machine_becomes $m 'loaded J4417@E read back'
done

# A wrong password does not become right by waiting.
echo another-6d0f >"$scratch/password"
for m in $all; do
	send J4417 D $m
	expect "an order with a wrong password to $m" failed "$(outcome_of "$order")"
	expect "$m: its name" login "$(events "kind=kept&machine=$m" | tail -n 1 | jq -r .outcome)"
done
printf '%s\n' "$word" >"$scratch/password"
for m in $all; do
	carried J4417 D $m
	holds_pair $m J4417 D || fail "$m does not hold D"
done

printf '%s\nanother-6d0f\n' "$word" >"$scratch/secrets" # grep's own words can be seen too
! grep -raFl -f "$scratch/secrets" "$home" "$log" || fail 'a password is in what the service keeps or says'
! events | grep -F -f "$scratch/secrets" || fail 'a password is in an event'
! cat /proc/[0-9]*/cmdline /proc/[0-9]*/environ 2>/dev/null | tr '\0' '\n' | grep -F -f "$scratch/secrets" || fail 'a password is in what others may see of a process'
sound
stop
echo 'the service with file servers: all well'
