#!/bin/sh
# Goal: checkpoints are appended to a file that is one, and only begun where that was asked for; what was cut off in
# the middle of a write is closed off; nothing else is ever written to.
# Usage: keep.sh YOKE-CARRIER
set -eu
carrier=$1
home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT INT TERM
cd "$home"
note() { # NUMBER: a note with its empty line
	printf 'yoke/0\n%s\nroot\n\n\342\200\224 yoke/0 signature%s\n\n' "$1" "$1"
}
keep() { # STATUS PLACE [--new]: what comes on the standard input
	want=$1
	shift
	got=0
	"$carrier" checkpoints "$@" 2>said || got=$?
	[ "$got" = "$want" ] || { echo "$*: status $got, not $want"; cat said; exit 1; }
}
says() {
	grep -q -- "$1" said || { echo "not said: $1"; cat said; exit 1; }
}

note 1 | keep 1 "file:$home/trail"
says 'the file is gone: mount what it lies on'
[ ! -e trail ] || { echo 'a file was begun'; exit 1; }
note 1 | keep 0 "file:$home/trail" --new
note 2 | keep 0 "file:$home/trail" --new
{ note 1; note 2; } | cmp - trail
{ note 3; note 4; } | keep 0 "file:$home/trail"
{ note 1; note 2; note 3; note 4; } | cmp - trail
printf 'yoke/0\n5\nro' >>trail
note 5 | keep 0 "file:$home/trail"
{ note 1; note 2; note 3; note 4; printf 'yoke/0\n5\nro\n\n'; note 5; } | cmp - trail

# What is no file of its own.
ln -s trail link
note 6 | keep 1 "file:$home/link"
mkdir folder
note 6 | keep 1 "file:$home/folder" --new
mkfifo pipe
note 6 | keep 1 "file:$home/pipe"
note 6 | keep 1 "file:$home/nowhere/trail" --new
says 'No such file or directory'
{ note 1; note 2; note 3; note 4; printf 'yoke/0\n5\nro\n\n'; note 5; } | cmp - trail
if [ -c /dev/full ]; then
	note 6 | keep 1 file:/dev/full
fi

# Wrong use, and more than is taken at once.
keep 2 </dev/null
keep 2 "file:$home/trail" --old </dev/null
note 6 | keep 2 "$home/trail"
says 'file:/PATH, syslog:, http'
note 6 | keep 2 file:trail
head -c 1048577 /dev/zero | keep 2 "file:$home/trail"
says 'more than 1048576 bytes'
