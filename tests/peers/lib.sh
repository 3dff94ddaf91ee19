# Helpers of the tests with other people's servers, to be sourced: a scratch folder to work in, with
# everything that was started (its process numbers in $started) ended with it.
scratch=$(mktemp -d)
started=
finish() {
	for p in $started; do kill "$p" 2>/dev/null || :; done
	wait 2>/dev/null || :
	rm -rf "$scratch"
}
trap finish EXIT
trap 'exit 1' INT TERM
cd "$scratch"

fail() {
	echo "FAILED: $*"
	tail -n 20 ./*.said ./*.log 2>/dev/null || :
	exit 1
}

within() { # SECONDS COMMAND...
	tries=$(($1 * 20))
	shift
	until "$@"; do
		tries=$((tries - 1))
		[ "$tries" -gt 0 ] || return 1
		sleep 0.05
	done
}
