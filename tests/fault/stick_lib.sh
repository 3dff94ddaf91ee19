# Helpers of the tests with a stick, to be sourced with the build folder as $1: a stick that is
# formatted with FAT, as far as this computer can mount one.
. "$(dirname "$0")/shop.sh"
stick=$scratch/stick
formatted=

# plug KIB: an empty stick of this size at $stick: FAT, or else a plain folder; which it is stands in
# $formatted. The tests with the kernel's own FAT: tests/peers/stick.sh.
plug() {
	mkdir -p "$stick"
	formatted='a plain folder: this kernel has no FAT, or there is no mkfs.vfat'
	[ -e "$stick.img" ] || mkfs.vfat -C "$stick.img" "$1" >/dev/null 2>&1 || return 0
	mount -t vfat -o loop "$stick.img" "$stick" 2>/dev/null || return 0
	formatted=FAT
	mounted="$stick $mounted"
}

# pull: the stick goes out, as it should.
pull() {
	[ "$formatted" = FAT ] || return 0
	umount "$stick"
	fsck.vfat -n "$stick.img" >"$scratch/fsck" 2>&1 || fail "the stick is damaged: $(cat "$scratch/fsck")"
	mounted=$(echo "$mounted" | sed "s|$stick ||")
}

# again: pulled out and put in.
again() {
	pull
	plug 0
}

# by_stick NAME [SETTING...]: a machine that gets its programs by stick, a folder for each channel.
by_stick() {
	stick_name=$1
	shift
	{
		printf '[line]\nkind = stick\nname = O{number}.NC\n'
		for setting; do echo "$setting"; done
		printf '[line upper]\nfolder = CH1\n[line lower]\nfolder = CH2\n'
	} | machine "$stick_name"
}

# on_stick CHANNEL: where a program of number 4417 lies.
on_stick() {
	case $1 in
	upper) echo "$stick/CH1/O4417.NC" ;;
	*) echo "$stick/CH2/O4417.NC" ;;
	esac
}

# carries JOB REVISION: the stick has exactly the dropped bytes, by sha256sum.
carries() {
	for c in upper lower; do
		[ "$(sum "$(on_stick $c)" 2>/dev/null)" = "$(sum "$programs/$1-$2.$c.nc")" ] || return 1
	done
}

expect_carries() {
	carries "$@" || fail "the stick does not carry $1 revision $2: $(cd "$stick" && find . -type f -exec sha256sum {} +)"
}

# saved CHANNEL FILE: the control saves this on the stick, some other day.
saved() {
	cp "$2" "$(on_stick "$1")"
	touch -d '2031-02-03 04:05:07' "$(on_stick "$1")"
}

# Nothing of an export is left beside the programs.
expect_clean() {
	left=$(find "$stick" -iname 'YOKE*.NEW' -o -iname 'YOKE*.OLD')
	[ -z "$left" ] || fail "left over on the stick: $left"
}

# says STATUS PART COMMAND...: the command ends with this status, and says so; what it said is in $said.
says() {
	says_status=$1 says_part=$2
	shift 2
	status=0
	"$@" >"$scratch/said" 2>&1 || status=$?
	said=$(cat "$scratch/said")
	[ "$status" = "$says_status" ] || fail "'$*' should end with $says_status, but $status: $said"
	expect_in "'$*'" "$says_part" "$said"
}
