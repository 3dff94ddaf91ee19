# Goal: what `cmake --install` puts down is a service as an administrator expects it: every part in its place, a unit that
# systemd takes without a word, a strict sandbox, and a service that tells when it is ready, that it lives, and that it ends.
. "$(dirname "$0")/lib.sh"

root=$scratch/root
DESTDIR=$root cmake --install "$build" >"$scratch/install.log" || fail "install: $(cat "$scratch/install.log")"
for file in bin/yoke sbin/yoked libexec/yoke/yoke-carrier lib/systemd/system/yoked.service \
	lib/sysusers.d/yoke.conf lib/tmpfiles.d/yoke.conf share/doc/yoke/README.md; do
	[ -f "$root/usr/local/$file" ] || fail "/usr/local/$file was not installed"
done
unit=$root/usr/local/lib/systemd/system/yoked.service

# systemd reads the unit without a complaint about it.
if command -v systemd-analyze >/dev/null; then
	mkdir "$scratch/unit"
	sed "s#=/usr/local/sbin#=$root/usr/local/sbin#" "$unit" >"$scratch/unit/yoked.service"
	said=$(systemd-analyze verify "$scratch/unit/yoked.service" 2>&1 | grep -F yoked.service || true)
	expect 'what systemd says of the unit' '' "$said"
	# Each of these takes something from a service that does not need it.
	security=$(systemd-analyze security --offline=true "$unit" 2>/dev/null) || true
	for taken in ProtectSystem NoNewPrivileges PrivateTmp RestrictNamespaces MemoryDenyWriteExecute ProtectHome; do
		printf '%s\n' "$security" | grep "✓ $taken=" >/dev/null || fail "the sandbox lacks $taken: $security"
	done
	systemd-sysusers --dry-run "$root/usr/local/lib/sysusers.d/yoke.conf" >/dev/null 2>&1 || fail 'the users are not understood'
fi

# The installed service speaks sd_notify(3).
socat -u "UNIX-RECV:$scratch/notify" "CREATE:$scratch/told" &
listener=$!
within "$patience" test -S "$scratch/notify" || fail 'nobody listens for the notice'
yoked=$root/usr/local/sbin/yoked
NOTIFY_SOCKET=$scratch/notify
export NOTIFY_SOCKET
start
within "$patience" grep -q READY=1 "$scratch/told" || fail "not told ready: $(cat "$scratch/told")"
within "$patience" grep -q WATCHDOG=1 "$scratch/told" || fail "no sign of life: $(cat "$scratch/told")"
stop
unset NOTIFY_SOCKET
within "$patience" grep -q STOPPING=1 "$scratch/told" || fail "not told stopping: $(cat "$scratch/told")"
kill "$listener" 2>/dev/null || true
