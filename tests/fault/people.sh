# Helpers of the tests with several persons, to be sourced with the build folder as $1: users of every Debian
# (base-passwd) stand for the shop's people.
. "$(dirname "$0")/shop.sh"
[ "$(id -u)" = 0 ] || skip 'only root can act as several users'
cp "$build/cli/yoke" "$scratch/yoke"
chmod 755 "$scratch" "$home" "$scratch/yoke"

# The service, whose socket everybody may open: who may what is not a matter of its mode here.
open_shop() {
	start
	chmod 666 "$home/yoke.sock"
}

# as USER VERB...: the command as this user; its output goes to $said, its status to $did.
as() {
	as_user=$1
	shift
	did=0
	said=$(setpriv --reuid "$as_user" --regid "$as_user" --clear-groups "$scratch/yoke" "$@" --home "$home" 2>&1) || did=$?
}

# denied WORDS USER VERB...
denied() {
	want=$1
	shift
	as "$@"
	expect "status of $*" "1" "$did"
	expect_in "what is said to $*" "$want" "$said"
}

done_by() { # USER VERB...
	as "$@"
	[ "$did" = 0 ] || fail "$*: $did: $said"
}

# dropped JOB REVISION NUMBER UPPER-OWNER LOWER-OWNER [FOLDER] [MODE]
dropped() {
	job=$1 rev=$2 number=$3 owner=$4 other=$5 folder=${6:-.} mode=${7:-644}
	for channel in upper lower; do
		program "$job" "$rev" $channel "$number" 201 202 >"$scratch/one"
		chmod "$mode" "$scratch/one"
		chown "$owner" "$scratch/one"
		mv "$scratch/one" "$programs/$folder/$job-$rev.$channel.nc"
		owner=$other
	done
}

why_of() { # JOB REVISION [MACHINE]
	pair_of "$@" | jq -r .text
}

# A pair whose second program has not come yet is held too, and that is not what is waited for here.
has_state() { # STATE JOB REVISION [MACHINE]
	has_state=$1
	shift
	[ "$(state_of "$@")" = "$has_state" ] || return 1
	case $(why_of "$@") in
	mate-missing*) return 1 ;;
	esac
}
