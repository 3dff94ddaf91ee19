# Goal: every request needs its duty, by the kernel's word for who asks and for his groups; every refusal
# is an event, and a flood of them is a few. A route that stands in no table of duties fails here.
. "$(dirname "$0")/lib.sh"

here=$(dirname "$0")
[ "$(id -u)" = 0 ] || skip 'only root can ask as several users'
command -v setpriv >/dev/null || skip 'setpriv is not installed'

# --- The table lists what there is ---

grep -v '^#' "$here/rights.tsv" >"$scratch/table"
sed -n 's/^\tX([A-Z_]*, "\([A-Z]*\)", "\([^"]*\)", \([A-Z_]*\)).*/\1\t\2\t\3/p' "$here/../../include/yoke/api.h" |
	awk -F '\t' -v OFS='\t' '{ $3 = tolower($3); gsub("_", "-", $3); print }' >"$scratch/routes"
[ "$(wc -l <"$scratch/routes")" -gt 20 ] || fail 'the routes could not be read'
diff "$scratch/table" "$scratch/routes" || fail 'tests/scenario/rights.tsv does not list the routes of include/yoke/api.h'

# --- Users: duties by number, but for one by its name ---

look=7101 carry=60 prove=7103 release=7104 again=7105 keep=7106 # 60: games, of every Debian
gid_of() {
	case $1 in
	look) echo $look ;;
	carry) echo $carry ;;
	prove) echo $prove ;;
	release) echo $release ;;
	release-again) echo $again ;;
	keep) echo $keep ;;
	*) fail "there is no duty $1" ;;
	esac
}
all_but() { # DUTY: the groups of all other duties
	for duty in look carry prove release release-again keep; do
		[ "$duty" = "$1" ] || printf '%s,' "$(gid_of $duty)"
	done | sed 's/,$//'
}

# as UID GID GROUPS METHOD PATH: the status; the body goes to $answer. A stream is left after its first second.
as() {
	as_uid=$1 as_gid=$2 as_groups=$3 as_method=$4 as_path=$5
	shift 5
	: >"$answer"
	chmod 666 "$answer"
	case $as_path in */follow) as_time=1 ;; *) as_time=$patience ;; esac
	setpriv --reuid "$as_uid" --regid "$as_gid" --groups "$as_groups" \
		curl -s --path-as-is --max-time "$as_time" --unix-socket "$home/yoke.sock" -o "$answer" -w '%{http_code}' \
		-X "$as_method" "$@" "http://yoke$as_path" || [ "$as_time" = 1 ]
}
path_of() { # FORM
	printf %s "$1" | sed "s/{machine}/M1/; s/{job}/J4417/; s/{sha}/$sha/; s/{order}/$order/; s/{event}/1/"
}
row() { # UID GID GROUPS METHOD FORM
	case $4:$5 in
	POST:/v1/programs) as "$1" "$2" "$3" "$4" "$(path_of "$5")" --data-binary "$4" ;;
	POST:*) as "$1" "$2" "$3" "$4" "$(path_of "$5")" -d '{}' ;;
	*) as "$1" "$2" "$3" "$4" "$(path_of "$5")" ;;
	esac
}

let_in() { # WHAT STATUS
	# What no group can give is refused behind this door, for another reason.
	[ "$2" != 403 ] || [ "$(jq -r .error "$answer")" != owner ] || return 0
	case $2 in 403 | 000) fail "$1: $2 $(cat "$answer")" ;; esac
}

begin() { # DUTIES
	printf '[yoke]\nsettle_ms = 100\n%s\n' "$1" >"$home/yoke.conf"
	start
	chmod 755 "$scratch" "$home"
	chmod 666 "$home/yoke.sock"
}

mkdir -p "$home/machines" "$scratch/share"
printf '[line]\nkind = directory\nroot = %s\n' "$scratch/share" >"$home/machines/M1.conf"

# --- Without [duties] everybody who may open the socket may everything, as ever ---

begin ''
drop_pair J4417 C 4417
becomes released J4417 C
sha=$(pair_of J4417 C | jq -r '.parts[0].sha256')
expect 'an order' 202 "$(ask POST /v1/machines/M1/send -d '{"job": "J4417"}')"
order=$(jq -r .order "$answer")
while IFS="$(printf '\t')" read -r method form duty; do
	status=$(row 4711 4711 4711 "$method" "$form")
	let_in "$method $form without [duties]" "$status"
done <"$scratch/table"
expect 'refusals for want of a duty' 0 "$(events kind=refused | jq -c 'select(.outcome == "duty")' | wc -l)"
stop

# --- Each request, as one who has every duty but its own, and as one who has that alone ---

begin "[duties]
look = $look
carry = games
prove = $prove
release = $release
release-again = $again
keep = $keep, 7999"
expect 'the duties in the trail' '{"group":"games","gid":60} 7106 7999' "$(events kind=configured | tail -n 1 |
	jq -r '.detail.duties | (.carry[0] | tojson) + " " + (.keep | map(.gid | tostring) | join(" "))')"
uid=5000
tried=0
while IFS="$(printf '\t')" read -r method form duty; do
	uid=$((uid + 1))
	expect "status of $method $form without $duty" 403 "$(row $uid 4711 "$(all_but "$duty")" "$method" "$form")"
	expect "error of $method $form without $duty" duty "$(jq -r .error "$answer")"
	expect_in "why $method $form is refused" "the duty '$duty' is for the group" "$(cat "$answer")"
	events "kind=refused&who=uid%20$uid," >"$scratch/refusal"
	expect "events of $method $form without $duty" 1 "$(wc -l <"$scratch/refusal")"
	expect 'who was refused' "uid $uid, no such user" "$(jq -r .who "$scratch/refusal")"
	expect_in 'what was asked' "$method $(path_of "$form"): the duty '$duty'" "$(jq -r .text "$scratch/refusal")"
	case $form in
	*'{machine}'*) expect 'the machine of the refusal' M1 "$(jq -r .machine "$scratch/refusal")" ;;
	esac
	status=$(row $uid 4711 "$(gid_of "$duty")" "$method" "$form")
	let_in "$method $form with $duty" "$status"
	# The group of the process itself counts as those beside it do.
	status=$(row $uid "$(gid_of "$duty")" 4711 "$method" "$form")
	let_in "$method $form with $duty alone" "$status"
	tried=$((tried + 1))
done <"$scratch/table"
expect 'requests tried' "$(wc -l <"$scratch/table")" "$tried"

# What was refused was not done, and of a program not one byte was kept.
head -c 3000000 /dev/urandom >"$scratch/noise"
expect 'an upload without carry' 403 "$(as 5901 4711 "$(all_but carry)" POST /v1/programs --data-binary "@$scratch/noise")"
expect 'the program' 404 "$(ask GET "/v1/programs/$(sum "$scratch/noise")")"
expect 'an upload with carry' 201 "$(as 5901 4711 $carry POST /v1/programs --data-binary "@$scratch/noise")"
expect 'the program' 200 "$(ask GET "/v1/programs/$(sum "$scratch/noise")")"

# Users are told by name, with the group that gave the right; root needs none.
expect 'locked by news' 200 "$(as news 4711 7999,$look POST /v1/machines/M1/lock -d '{}')"
expect 'who locked' 'news (uid 9, group gid 7999)' "$(events kind=locked | tail -n 1 | jq -r .who)"
expect 'sent by news' 409 "$(as news 4711 games POST /v1/machines/M1/send -d '{"job": "J4417"}')"
expect 'who was refused' 'news (uid 9, group games)' "$(events kind=refused | tail -n 1 | jq -r .who)"
expect 'unlocked by root' 200 "$(ask POST /v1/machines/M1/unlock -d '{}')"
expect 'who unlocked' "$me" "$(events kind=unlocked | tail -n 1 | jq -r .who)"

# --- A flood: the same again is counted, many different ones as well ---

before=$(count_events)
i=0
while [ $i -lt 50 ]; do
	as 6001 4711 4711 GET /v1/status >/dev/null
	i=$((i + 1))
done
i=0
while [ $i -lt 50 ]; do
	as 6002 4711 4711 GET "/v1/jobs/J$i" >/dev/null
	i=$((i + 1))
done
expect 'events of the same request' 1 "$(count_events "after=$before&who=uid%206001,")"
flood=$(count_events "after=$before&who=uid%206002,")
case $flood in 5 | 6 | 7 | 8 | 9 | 10) ;; *) fail "50 different requests made $flood events" ;; esac
stop
begin ''
# One that ended in between would be told twice, but none is lost.
counted() { # UID
	events "after=$before&kind=refused&who=uid%20$1," | jq -s 'map(.detail.more // 1) | add'
}
expect 'refusals told of the same request' 50 "$(counted 6001)"
expect 'refusals told of different ones' 50 "$(counted 6002)"

# A job's name that is longer than the trail takes was no event at all.
long=$(printf '%0300d' 7)
expect 'a long name' 404 "$(ask POST /v1/machines/M1/send -d "{\"job\": \"$long\"}")"
expect 'the refusal of a long name' no-pair "$(events kind=refused | tail -n 1 | jq -r .outcome)"
sound
stop
