# Goal: each verb of the command is refused to whoever has not its duty, in words that say which duty it is and who has
# it, with status 1; and whoever has the duty gets an answer of the verb's own. A new verb that stands in no table of
# duties fails here.
. "$(dirname "$0")/people.sh"
here=$(dirname "$0")
tab=$(printf '\t')
grep -v '^#' "$here/rights_verbs.tsv" >"$scratch/table"
sed -n '/VERBS_ONLINE/,$s/^\tX(\([a-z]*\), .*/\1/p' "$here/../../cli/verbs.h" | sort >"$scratch/verbs"
[ "$(wc -l <"$scratch/verbs")" -gt 20 ] || fail 'the verbs could not be read'
cut -f 2 "$scratch/table" | sort -u | diff "$scratch/verbs" - || fail 'tests/fault/rights_verbs.tsv does not list the verbs of cli/verbs.h'

gid_of() { # DUTY
	case $1 in
	look) echo 7101 ;;
	carry) echo 7102 ;;
	prove) echo 7103 ;;
	release) echo 7104 ;;
	release-again) echo 7105 ;;
	keep) echo 7106 ;;
	*) fail "there is no duty $1" ;;
	esac
}
settings settle_ms 100
echo '[duties]' >>"$home/yoke.conf"
for duty in look carry prove release release-again keep; do
	echo "$duty = $(gid_of $duty)" >>"$home/yoke.conf"
done
share LATHE1
open_shop
drop_pair J4417 C 4417
becomes released J4417 C
sha=$(pair_of J4417 C | jq -r '.parts[0].sha256')
mkdir -m 777 "$scratch/stick" "$scratch/out"

# asks GROUPS VERB ARGUMENT...: what news is told, with these groups; a verb that does not end by itself is left.
asks() {
	groups=$1
	shift
	rm -f "$scratch/out/file"
	did=0
	said=$(timeout 10 setpriv --reuid news --regid 4711 --groups "$groups" timeout 3 "$scratch/yoke" "$@" --home "$home" 2>&1) || did=$?
}

tried=0
while IFS=$tab read -r duty verb arguments; do
	arguments=$(printf %s "$arguments" | sed "s|OUT|$scratch/out/file|; s|STICK|$scratch/stick|; s|SHA|$sha|")
	others=$(for other in look carry prove release release-again keep; do
		[ "$other" = "$duty" ] || gid_of $other
	done | paste -sd ,)
	# shellcheck disable=SC2086 # words
	asks "$others" $verb $arguments
	expect_in "what yoke $verb $arguments says without $duty" "the duty '$duty' is for the group $(gid_of "$duty") ([duties] in yoke.conf), and you are news" "$said"
	expect "status of yoke $verb $arguments without $duty" 1 "$did"
	# shellcheck disable=SC2086 # words
	asks "$(gid_of look),$(gid_of "$duty")" $verb $arguments
	if printf '%s\n' "$said" | grep -q "^yoke: .*the duty '"; then fail "yoke $verb $arguments with $duty: $said"; fi
	tried=$((tried + 1))
done <"$scratch/table"
expect 'verbs tried' "$(wc -l <"$scratch/table")" "$tried"
expect 'what was locked in the end' false "$(of LATHE1 .locked)"
sound
stop
