# Goal: every kind of wrong configuration is told with file and line, all of them at once, by
# yoked --check-config and by the start alike; what a first start writes is right and is never
# written over.
. "$(dirname "$0")/lib.sh"

# A first start writes a configuration with comments, which the check then takes.
start
stop
for file in yoke.conf machines/EXAMPLE.conf.sample; do
	grep -q '^# ' "$home/$file" || fail "$file has no comments"
done
"$yoked" --home "$home" --check-config >"$scratch/said" || fail 'the first configuration is not usable'
expect_in 'the check' 'usable: 0 machines, 0 warnings' "$(cat "$scratch/said")"
cp "$home/machines/EXAMPLE.conf.sample" "$home/machines/LATHE-A.conf"
"$yoked" --home "$home" --check-config >"$scratch/said" 2>&1 || fail "the example is not usable: $(cat "$scratch/said")"
rm "$home/machines/LATHE-A.conf"
echo '# mine' >"$home/yoke.conf"
start
stop
expect 'a configuration that was there' '# mine' "$(cat "$home/yoke.conf")"

# says PLACE PART: the check and the start both do.
says() {
	for how in --check-config ''; do
		# shellcheck disable=SC2086
		refuses_to_start $how
		expect "status of yoked $how" 2 "$status_of"
		expect_in "yoked $how, place" "$1" "$said"
		expect_in "yoked $how, what" "$2" "$said"
	done
}

# yoke LINE TEXT PART: yoke.conf is TEXT; PART is told of LINE. machine: the same of a machine's file.
yoke() {
	printf %b "$2" >"$home/yoke.conf"
	says "$home/yoke.conf:$1: " "$3"
	: >"$home/yoke.conf"
}

machine() {
	printf %b "$2" >"$home/machines/M.conf"
	says "$home/machines/M.conf:$1: " "$3"
	rm "$home/machines/M.conf"
}

yoke 1 'colour = red\n' 'before the first [section]'
yoke 2 '[yoke]\ncolour = red\n' "unknown key 'colour'"
yoke 3 '# x\n[yoke]\nprogramms = x\n' "did you mean 'programs'"
yoke 2 '[yoke]\nwatch = sometimes\n' 'events or poll'
yoke 2 '[yoke]\npoll_ms = soon\n' 'whole number'
yoke 2 '[yoke]\npoll_ms = -5\n' 'whole number'
yoke 2 '[yoke]\npoll_ms = 99999999999999999999\n' 'from 100 to 3600000'
yoke 2 '[yoke]\nincomplete_s = 0\n' 'from 1 to 86400'
yoke 2 '[yoke]\nprograms\n' 'neither a [section], nor a setting'
yoke 1 '[yoke\nwatch = events\n' 'not closed'
yoke 2 '[yoke]\nsocket = a\0001b\n' 'control characters'
yoke 2 '[yoke]\nsocket = \0377\n' 'not UTF-8'
yoke 3 '[yoke]\nwatch = poll\nwatch = events\n' 'stands twice'
yoke 2 '[shop]\nname = x\n' 'unknown section [shop]'
yoke 2 '[programs]\nnames = {job}{rev}.nc\n' 'cannot be told apart'
yoke 2 '[programs]\nnames = {part}.nc\n' 'unknown placeholder {part}'
yoke 2 '[programs]\nheader = (JOB {job\n' '{'
yoke 2 '[programs]\nchannels = upper\n' 'channels'
yoke 2 '[programs]\nchannels = upper, upper\n' 'upper'
yoke 2 '[programs]\nnumber_from_job = perhaps\n' 'yes'
yoke 2 '[wait]\ncodes = M200-\n' 'codes'
yoke 2 '[wait]\ncodes = M299-M200\n' 'codes'
yoke 2 '[wait]\nskip = both\n' 'separate'
yoke 2 '[limits]\nblock_max = 0\n' 'block_max'
yoke 2 '[weights]\nwait-missing = ignore\n' 'refuse'
yoke 2 '[release]\nabsolute = wait-mising\n' "no rule 'wait-mising'"
yoke 2 '[duties]\ncarry = nosuchgroup\n' "carry: this computer knows no group 'nosuchgroup'"
yoke 2 '[duties]\ncarry = games,\n' 'commas stand between groups'
yoke 2 '[duties]\ncarry = games, all\n' "'all' stands alone"
yoke 2 '[duties]\ncary = games\n' "did you mean 'carry'"
yoke 2 '[owners]\nnosuchuser = office server\n' "knows no user 'nosuchuser'"
yoke 2 '[owners]\n4711 =\n' 'what the file server is called'
yoke 3 '[owners]\nnews = office server\n9 = old server\n' 'stands twice in [owners]'
yoke 2 '[weights]\nwait-mising = warn\n' "did you mean 'wait-missing'"
yoke 2 '[channel middle]\nforbid = M06\n' 'no such channel'
yoke 1 "[$(printf '%060d' 7)]\nx = y\n" 'too long'
yoke 2 "[yoke]\nprograms = $(printf '%02000d' 7)\n" 'bytes long'

machine 2 '[machine]\nname = x\n' "unknown key 'name'"
machine 2 '[machine]\non_release = sometimes\n' 'wait or carry'
machine 2 '[line]\nkind = pigeon\n' 'pigeon'
machine 3 '[line]\nkind = directory\nroot = relative/path\n' 'absolute'
machine 4 '[line]\nkind = directory\nroot = /srv\nfolder = ../../etc\n' 'folder'
machine 4 '[line]\nkind = serial\naddress = port:ttyS0\nbaud = 12345\n' 'baud'
machine 4 '[line]\nkind = serial\naddress = port:ttyS0\nframing = 9q3\n' 'framing'
machine 3 '[line]\nkind = serial\naddress = tcp://host\n' 'tcp://'
machine 3 '[line]\nkind = serial\naddress = /dev/ttyUSB0\n' 'usb:SERIAL'
machine 4 '[line]\nkind = serial\naddress = port:ttyS0\nroot = /srv\n' 'root'
machine 4 '[line]\nkind = directory\nroot = /srv\nname = {colour}\n' 'colour'
machine 5 '[line]\nkind = directory\nroot = /srv\n[line middle]\nfolder = x\n' 'middle'

# Files that are no configuration, or a machine that has no name.
mkdir "$home/machines/DIR.conf"
says "$home/machines/DIR.conf: " 'is not a file'
rmdir "$home/machines/DIR.conf"
mkfifo "$home/machines/PIPE.conf"
says "$home/machines/PIPE.conf: " 'is not a file'
rm "$home/machines/PIPE.conf"
ln -s nowhere "$home/machines/GONE.conf"
says "$home/machines/GONE.conf: " 'cannot be opened'
rm "$home/machines/GONE.conf"
: >"$home/machines/a b.conf"
says "$home/machines/a b.conf: " "the machine's name comes from the file name"
rm "$home/machines/a b.conf"
head -c 3000000 /dev/zero | tr '\0' '\n' >"$home/machines/BIG.conf"
says "$home/machines/BIG.conf: " 'is larger than'
rm "$home/machines/BIG.conf"
head -c 5000 /dev/urandom >"$home/yoke.conf"
refuses_to_start --check-config
expect 'status for noise' 2 "$status_of"
expect_in 'noise' "$home/yoke.conf:1: " "$said"

# Every error of every file at once, and their number.
printf '[yoke]\nwatch = x\npoll_ms = y\n' >"$home/yoke.conf"
printf '[machine]\nzzz = 1\n' >"$home/machines/M.conf"
refuses_to_start --check-config
for place in yoke.conf:2 yoke.conf:3 machines/M.conf:2; do
	expect_in 'all errors' "$home/$place: " "$said"
done
expect_in 'their number' 'errors' "$said"
rm "$home/machines/M.conf"

# The command line.
for wrong in '' '--colour red' '--home' "--home $home more"; do
	status=0
	# shellcheck disable=SC2086
	"$yoked" $wrong >"$scratch/said" 2>&1 || status=$?
	expect "status of yoked $wrong" 2 "$status"
	expect_in "yoked $wrong" 'usage: yoked' "$(cat "$scratch/said")"
done
expect_in '--version' 'yoked 0' "$("$yoked" --version)"
expect_in '--help' 'usage: yoked' "$("$yoked" --help)"

# The check changes nothing, also where nothing is.
status=0
"$yoked" --home "$scratch/nowhere" --check-config >"$scratch/said" 2>&1 || status=$?
expect 'status for a home that is not there' 2 "$status"
[ ! -e "$scratch/nowhere" ] || fail 'the check made a folder'
