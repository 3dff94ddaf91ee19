# Goal: who dropped a program is what the kernel says of its owner; an account behind which a file server
# hides people is told as such, and never as a person.
. "$(dirname "$0")/lib.sh"

[ "$(id -u)" = 0 ] || skip 'only root can give files to others'
printf '[yoke]\nsettle_ms = 100\n[owners]\nwww-data = the file server of the office\n4712 = the old server\n' >"$home/yoke.conf"
start

# drop_as OWNER JOB NUMBER
drop_as() {
	for channel in upper lower; do
		program "$2" A $channel "$3" 201 >"$scratch/one"
		chown "$1" "$scratch/one"
		mv "$scratch/one" "$programs/$2-A.$channel.nc"
	done
	becomes released "$2" A
}
drop_as news J1001 1001
drop_as 4711 J1002 1002
drop_as www-data J1003 1003
drop_as 4712 J1004 1004
drop_as nobody J1005 1005
drop_as root J1006 1006
by() {
	events "kind=$1&job=$2" | jq -r .who | sort -u
}
for kind in arrived released; do
	expect "$kind by news" 'news (uid 9)' "$(by $kind J1001)"
	expect "$kind by an unknown owner" 'uid 4711, no such user' "$(by $kind J1002)"
	expect "$kind through a server" 'somebody through the file server of the office (account www-data, uid 33)' "$(by $kind J1003)"
	expect "$kind through another" 'somebody through the old server (account 4712, uid 4712)' "$(by $kind J1004)"
	expect "$kind by nobody" 'uid 65534, put by the kernel in place of another' "$(by $kind J1005)"
	expect "$kind by root" 'root (uid 0)' "$(by $kind J1006)"
done
expect 'the pair' 'somebody through the file server of the office (account www-data, uid 33)' "$(pair_of J1003 A | jq -r .by)"

# The same account over the socket is no person either.
chmod 755 "$scratch" "$home"
chmod 666 "$home/yoke.sock"
setpriv --reuid www-data --regid www-data --clear-groups curl -s --unix-socket "$home/yoke.sock" \
	-X POST -d '{}' http://yoke/v1/machines/M/lock >/dev/null
expect 'who asked' 'somebody through the file server of the office (account www-data, uid 33)' "$(by refused '')"
sound
stop
