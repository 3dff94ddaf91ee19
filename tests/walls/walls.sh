#!/bin/sh
# The walls of the house stand: pure libraries stay pure, each library's header has one home, no include climbs out of its
# folder, no file is over 600 lines, and DEVELOPERS.md has a line for each .c file.
# usage: walls.sh BUILD
set -eu
build=$1
cd "$(dirname "$0")/../.."
bad=0

complain() {
	echo "$*"
	bad=1
}

# What a pure library may want from outside: memory, strings, characters, formatting into memory. No files, no clock, no
# sockets, no environment. What compilers add by themselves (stack check, fortified copies, sanitizers) is let through.
allowed='malloc|calloc|realloc|reallocarray|free|strdup|strndup|mem[a-z]+|str[a-z]+|__str[a-z_]+|snprintf|vsnprintf|qsort|bsearch'
allowed="$allowed|isalpha|isdigit|isspace|toupper|tolower|__ctype_[a-z_]+|strto[a-z]+|__isoc23_strto[a-z]+"
allowed="$allowed|f(abs|max|min|mod)|hypot|sqrt|sin|cos|sincos|tan|a(sin|cos|tan|tan2)|exp|log|pow|ceil|floor|round|trunc|llround" # expressions, times
allowed="$allowed|__u?(div|mod)ti3|__floatunti[dx]f|__popcountdi2" # the compiler's own: 128 bits, bits that are set
allowed="$allowed|__assert_fail|abort|__stack_chk_fail|__[a-z]+_chk|__asan_.*|__ubsan_.*|__sanitizer_.*|__gcov_.*"
allowed="$allowed|_GLOBAL_OFFSET_TABLE_|__start_.*|__stop_.*|setjmp|_setjmp|longjmp|__longjmp_chk"
for lib in core wire; do
	archive="$build/daemon/$lib/libyoke_$lib.a"
	[ -f "$archive" ] || { complain "$archive is missing"; continue; }
	nm -u --format=posix "$archive" 2>/dev/null | awk '$2 == "U" || $2 == "w" {print $1}' | sort -u >"$build/walls.wanted"
	nm --defined-only --format=posix "$archive" 2>/dev/null | awk 'NF >= 2 {print $1}' | sort -u >"$build/walls.defined"
	for symbol in $(comm -23 "$build/walls.wanted" "$build/walls.defined" | grep -vxE "$allowed" || true); do
		complain "$lib is pure and wants $symbol"
	done
	# No globals that change: nothing in .data or .bss (constant tables with pointers lie in .data.rel.ro).
	objdump -t "$archive" 2>/dev/null | awk 'NF > 3 && ($(NF-2) == ".data" || $(NF-2) == ".bss") {print $NF}' |
		grep -vE '^(\.|__)' >"$build/walls.globals" || true
	case "$build" in
	*sanitize*) ;; # the sanitizers put their own tables beside ours
	*) while read -r symbol; do complain "$lib is pure and has the variable $symbol"; done <"$build/walls.globals" ;;
	esac
done

home() { # header, folder...
	header=$1
	shift
	git ls-files '*.c' '*.h' | xargs grep -l "#include <$header>" | while read -r file; do
		for folder in "$@"; do
			case "$file" in "$folder"/*) continue 2 ;; esac
		done
		echo "$file includes <$header>, whose home is: $*"
	done >"$build/walls.homes"
	[ ! -s "$build/walls.homes" ] || complain "$(cat "$build/walls.homes")"
}
home sqlite3.h daemon/vault tests
home libserialport.h daemon/carrier tests
home microhttpd.h daemon/api tests
home curl/curl.h daemon/carrier cli tests
home ini.h daemon/common tests
home expat.h daemon/carrier
home uv.h daemon/intake daemon/dispatch daemon/api daemon/service tests

climbs=$(git ls-files '*.c' '*.h' | xargs grep -n '#include "\.\./' || true)
[ -z "$climbs" ] || complain "includes that climb out of their folder: $climbs"

for header in include/yoke/*.h; do
	foreign=$(grep -hE '#include <' "$header" | grep -vE '<(std[a-z]+|string|limits)\.h>' || true)
	[ -z "$foreign" ] || complain "$header is a contract and includes $foreign"
done

git ls-files '*.c' '*.h' | while read -r file; do
	[ "$(wc -l <"$file")" -le 600 ] || echo "$file has over 600 lines"
done >"$build/walls.long"
[ ! -s "$build/walls.long" ] || complain "$(cat "$build/walls.long")"

git ls-files 'daemon/*.c' 'cli/*.c' | while read -r file; do
	grep -qF "\`${file}\`" DEVELOPERS.md || echo "DEVELOPERS.md has no line for $file"
done >"$build/walls.untold"
[ ! -s "$build/walls.untold" ] || complain "$(cat "$build/walls.untold")"

[ "$bad" = 0 ] && echo "the walls stand"
exit "$bad"
